"""Frame intervals, the panel's step response, and the warm-up."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from analysis.figures.style import ALARM, BAND, INK, LIMIT
from analysis.plain_page.page import Picture
from calibration.certificate import FlickerPart, TimingPart, UniformityPart
from calibration.warmup import CHANGE_LIMIT
from protocols.field import Floats
from stimulus.certificate_page.plots import dressed, picture, plain_numbers

LEAST_SPAN_MS = 12.0


def intervals_picture(part: TimingPart) -> Picture:
    """Histogram of frame intervals, counts on a logarithmic scale so that the rare ones show."""

    def draw(figure: Figure) -> None:
        axes = dressed(figure.subplots(), "interval, ms", "flips")
        edges = 1e3 * np.asarray(part.histogram_edges_s)
        axes.stairs(part.histogram_counts, edges, fill=True, color=BAND)
        axes.stairs(part.histogram_counts, edges, color=LIMIT, lw=1.0)
        axes.axvline(1e3 / part.refresh_hz.value, color=INK, lw=1.0, ls=(0, (3, 2)))
        axes.xaxis.set_major_locator(MaxNLocator(5))
        axes.set_yscale("log")
        plain_numbers(axes.yaxis)
        axes.set_ylim(bottom=0.7)

    return picture(
        "intervals",
        "Frame intervals",
        f"Histogram of {part.flips} frame intervals about {1e3 / part.refresh_hz.value:.2f} ms.",
        f"{part.flips} flips; dashed: one frame. Missed {part.missed}, doubled {part.doubled}, "
        f"under load missed {part.missed_under_load}; drift {part.drift_ppm:.1f} ppm.",
        draw,
    )


def response_picture(part: FlickerPart) -> Picture:
    """Mean step from dark to light and back, each on its own axes about its middle."""
    t_ms, light = 1e3 * np.asarray(part.trace_s), np.asarray(part.trace_relative)
    span_ms = max(4e3 * max(part.rise_s.value, part.fall_s.value), LEAST_SPAN_MS)

    def draw(figure: Figure) -> None:
        up, down = figure.subplots(1, 2, sharey=True)
        for axes, rising, words in ((up, True, "light, share of the step"), (down, False, "")):
            _edge(dressed(axes, "ms", words), t_ms - _middle_ms(t_ms, light, rising), light)
            axes.set_xlim(-span_ms / 3, span_ms)
        up.set_ylim(-0.1, 1.1)

    return picture(
        "response",
        "Panel response to a step",
        "Mean light about a step up and a step down, as a share of the step.",
        f"Left up, right down; 0 ms is half-way, the band 10 to 90 %. {part.method[0].upper()}"
        f"{part.method[1:]}.",
        draw,
    )


def warm_up_picture(part: UniformityPart) -> Picture:
    """Luminance since the display was switched on."""
    minutes, last = np.asarray(part.warm_up_s) / 60, part.warm_up_cd_m2[-1]
    stable = (part.stable_after_s or 0.0) / 60

    def draw(figure: Figure) -> None:
        axes = dressed(figure.subplots(), "minutes since switching on", "cd/m2")
        axes.axhspan(last * (1 - CHANGE_LIMIT), last * (1 + CHANGE_LIMIT), color=BAND, lw=0)
        axes.plot(minutes, part.warm_up_cd_m2, "o", ms=2, color=LIMIT)
        axes.axvline(stable, color=INK, lw=1.0, ls=(0, (3, 2)))

    return picture(
        "warm-up",
        "Warm-up",
        f"Luminance of mean grey over {minutes[-1]:.0f} minutes, stable after {stable:.0f}.",
        f"Dashed: stable from {stable:.0f} min on; band: {100 * CHANGE_LIMIT:g} % about the last "
        "reading.",
        draw,
    )


def _edge(axes: Axes, t_ms: Floats, light: Floats) -> None:
    axes.axhspan(0.1, 0.9, color=BAND, lw=0, alpha=0.6)
    axes.plot(t_ms, light, color=ALARM, lw=1.2)


def _middle_ms(t_ms: Floats, light: Floats, rising: bool) -> float:
    """When light crosses half of the step for the first time in this direction."""
    above = light > 0.5
    crossed = above[1:] & ~above[:-1] if rising else ~above[1:] & above[:-1]
    at = int(np.flatnonzero(crossed)[0])
    share = (0.5 - light[at]) / (light[at + 1] - light[at])
    return float(t_ms[at] + share * (t_ms[at + 1] - t_ms[at]))
