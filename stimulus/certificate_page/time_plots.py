"""Frame intervals and the panel's step response."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from analysis.figures.style import ALARM, BAND, INK, LIMIT
from calibration.certificate import FlickerPart, TimingPart
from stimulus.certificate_page.plots import Picture, dressed, picture, plain_numbers


def intervals_picture(part: TimingPart) -> Picture:
    """Histogram of frame intervals, counts on a logarithmic scale so that the rare ones show."""

    def draw(figure: Figure) -> None:
        axes = dressed(figure.subplots(), "interval, ms", "flips")
        edges = 1e3 * np.asarray(part.histogram_edges_s)
        axes.stairs(part.histogram_counts, edges, fill=True, color=BAND)
        axes.stairs(part.histogram_counts, edges, color=LIMIT, lw=1.0)
        axes.axvline(1e3 / part.refresh_hz.value, color=INK, lw=1.0, ls=(0, (3, 2)))
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
    """Mean step from dark to light and back."""

    def draw(figure: Figure) -> None:
        axes = dressed(figure.subplots(), "ms", "light, share of the step")
        axes.axhspan(0.1, 0.9, color=BAND, lw=0, alpha=0.6)
        axes.plot(1e3 * np.asarray(part.trace_s), part.trace_relative, color=ALARM, lw=1.2)
        axes.set_ylim(-0.1, 1.1)

    return picture(
        "response",
        "Panel response to a step",
        "Mean light after a step up and a step down, as a share of the step.",
        f"Band: 10 to 90 %. {part.method[0].upper()}{part.method[1:]}.",
        draw,
    )
