"""What a panel leaves of flicker: its response in time, and the contrast it delivers.

The frames of a cycle ask for 1 + C * cos(2 pi k / n), k = 0..n-1 (`protocols.grating.frame_plan`
away from the ramps). The panel follows each frame exponentially, with one time constant up and
another down. In the steady state the light of a cycle is known in closed form, and with it the
amplitude at the flicker rate and the mean. Delivered contrast is amplitude over mean, so a panel
that rises and falls unequally, and thereby shifts the mean, is accounted for.

Delivered contrast = nominal contrast * frame hold * panel response; the last is given here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.certificate import DeliveredLine, FlickerPart, Quantity
from calibration.edges import find_edges, restored
from calibration.fourier import measured_contrast
from calibration.samples import rectangular
from calibration.steps import StepFit, fit_steps
from calibration.traces import Trace
from protocols.errors import InputError, require_within
from protocols.field import Floats
from protocols.grating import frame_hold, whole_frame_flicker

LEVEL_SHARE = 0.2
STEADY = 1e-13
MOST_CYCLES = 20000
DRAWN_POINTS = 400
NUDGE_S = 1e-6
MOVED_MEAN = 0.01


@dataclass(frozen=True)
class Panel:
    """A panel's time constants, seconds: light going up, light going down."""

    rise_tau_s: float
    fall_tau_s: float

    def tau_s(self, up: bool) -> float:
        """The time constant for this direction."""
        return self.rise_tau_s if up else self.fall_tau_s


@dataclass(frozen=True)
class Delivered:
    """Flicker as delivered, in units of the mean asked for: amplitude and mean."""

    amplitude: float
    mean: float

    @property
    def contrast(self) -> float:
        """Amplitude at the flicker rate over the mean."""
        return self.amplitude / self.mean


def delivered(panel: Panel, contrast: float, frames_per_cycle: int, refresh_hz: float) -> Delivered:
    """Steady flicker of a nominal contrast as this panel delivers it.

    >>> round(delivered(Panel(0.0, 0.0), 0.5, 3, 60.0).contrast, 6), round(0.5 * 0.826993343, 6)
    (0.413497, 0.413497)
    """
    n = frames_per_cycle
    wanted = 1 + contrast * np.cos(2 * np.pi * np.arange(n) / n)
    start = _steady_start(panel, wanted, refresh_hz)
    total, mean = 0j, 0.0
    step = 2j * np.pi / n
    for k, target in enumerate(wanted):
        frames = panel.tau_s(target > start) * refresh_hz
        total += np.exp(-step * k) * (
            target * (1 - np.exp(-step)) / step + (start - target) * _decay(frames, step)
        )
        mean += float(target + ((start - target) * _decay(frames, 0j)).real)
        start = _followed(start, target, frames)
    return Delivered(2 * abs(complex(total)) / n, mean / n)


def panel_response(
    fit: StepFit, contrast: float, flicker_hz: float, refresh_hz: float
) -> DeliveredLine:
    """Share of frame-held contrast left by a fitted panel, with its uncertainty.

    Type A follows from that of the fit. Type B adds that a panel's time constants depend on the
    levels it goes between: they are taken as within 20 % of those fitted (own estimate; record the
    flicker itself where that is too wide). Raises InputError for a contrast or rate out of range.
    """
    require_within("contrast", contrast, 1e-6, 1.0, "Give the contrast as a share, 0 to 1.")
    n, exact_hz = whole_frame_flicker(flicker_hz, refresh_hz)
    panel = Panel(fit.rise_tau_s.value, fit.fall_tau_s.value)
    nominal = contrast * frame_hold(exact_hz, refresh_hz)

    def share(of: Panel) -> float:
        return delivered(of, contrast, n, refresh_hz).contrast / nominal

    by_rise, by_fall = _slopes(share, panel)
    rise, fall = fit.rise_tau_s, fit.fall_tau_s
    type_a = float(np.hypot(by_rise * rise.type_a, by_fall * fall.type_a))
    type_b = float(np.hypot(by_rise * _doubt_s(rise), by_fall * _doubt_s(fall)))
    return _line(exact_hz, contrast, refresh_hz, _share(share(panel), type_a, type_b))


def measured_response(
    trace: Trace, contrast: float, flicker_hz: float, refresh_hz: float, swing: float | None = None
) -> DeliveredLine:
    """The same from a trace of the flicker itself, by Fourier analysis; raises InputError.

    `swing` is in the unit of the trace.
    """
    require_within("contrast", contrast, 1e-6, 1.0, "Give the contrast as a share, 0 to 1.")
    _, exact_hz = whole_frame_flicker(flicker_hz, refresh_hz)
    found = measured_contrast(trace, exact_hz, swing)
    nominal = contrast * frame_hold(exact_hz, refresh_hz)
    share = _share(found.value / nominal, found.type_a / nominal, found.type_b / nominal)
    return _line(exact_hz, contrast, refresh_hz, share)


def flicker_part(
    steps: Trace,
    contrasts: Sequence[float],
    flicker_hz: float,
    refresh_hz: float,
    flickers: Mapping[float, Trace] | None = None,
    swing: float | None = None,
) -> FlickerPart:
    """The certificate's panel response from a step trace and, where there are any, flicker traces.

    `flickers` holds a trace by the nominal contrast it was recorded at; there the measured value
    takes the place of the predicted one, and `method` says how far apart they were. The trace kept
    is the mean rise and fall, 0 dark and 1 light. Raises InputError for any trace unfit for use.
    """
    fit = fit_steps(steps)
    measured = {
        contrast: measured_response(trace, contrast, flicker_hz, refresh_hz, swing)
        for contrast, trace in (flickers or {}).items()
    }
    predicted = {
        contrast: panel_response(fit, contrast, flicker_hz, refresh_hz)
        for contrast in sorted({*contrasts, *measured})
    }
    t_s, light = mean_step(steps)
    return FlickerPart(
        method=_method(steps, predicted, measured),
        rise_s=fit.rise_s,
        fall_s=fit.fall_s,
        delivered=list((predicted | measured).values()),
        trace_s=[float(t) for t in t_s],
        trace_relative=[float(v) for v in light],
        notes=_moved_mean(fit, max(predicted), flicker_hz, refresh_hz),
    )


def mean_step(trace: Trace) -> tuple[Floats, Floats]:
    """Mean of all whole cycles from rise to rise: seconds and light (0 dark, 1 light), (m,).

    Raises InputError for a trace of fewer than two rises.
    """
    level = restored(trace)
    edges = find_edges(level)
    ups = edges.at[edges.rising]
    if len(ups) < 2:
        raise InputError(f"{trace.source}, rises", len(ups), "2 or more", "Record more steps.")
    length = int(np.min(np.diff(ups)))
    lead = min(int(ups[0]), length // 10)
    cycles = [level.value[up - lead : up - lead + length] for up in ups[:-1]]
    light = (np.mean(cycles, axis=0) - edges.low) / edges.swing
    keep = np.unique(np.linspace(0, length - 1, min(DRAWN_POINTS, length)).astype(int))
    return keep / level.rate_hz, np.asarray(light[keep])


def _method(
    steps: Trace, predicted: Mapping[float, DeliveredLine], measured: Mapping[float, DeliveredLine]
) -> str:
    coupling = ", AC-coupled and levelled" if steps.ac_coupled else ""
    words = f"exponential rise and fall fitted to steps ({steps.source}{coupling})"
    for contrast, line in measured.items():
        ratio = line.panel_response.value / predicted[contrast].panel_response.value
        words += f"; measured at contrast {contrast:g}: {ratio:.3f} of the predicted"
    return words


def _moved_mean(
    fit: StepFit, contrast: float, flicker_hz: float, refresh_hz: float
) -> list[str]:
    """A sentence where unequal rise and fall move the mean luminance while it flickers."""
    frames, exact_hz = whole_frame_flicker(flicker_hz, refresh_hz)
    panel = Panel(fit.rise_tau_s.value, fit.fall_tau_s.value)
    moved = delivered(panel, contrast, frames, refresh_hz).mean - 1
    if abs(moved) < MOVED_MEAN:
        return []
    return [
        f"Rise and fall differ: flicker of contrast {contrast:g} at {exact_hz:.2f} Hz moves the "
        f"mean luminance by {moved:+.1%}, so it may be seen as a change of brightness."
    ]


def _steady_start(panel: Panel, wanted: Floats, refresh_hz: float) -> float:
    """Light at the start of a cycle once cycles repeat; raises InputError if they never do."""
    start = float(wanted[-1])
    for _ in range(MOST_CYCLES):
        light = start
        for target in wanted:
            frames = panel.tau_s(bool(target > light)) * refresh_hz
            light = _followed(light, float(target), frames)
        if abs(light - start) < STEADY:
            return light
        start = light
    raise InputError(
        "panel time constants in s",
        f"{panel.rise_tau_s:g} up, {panel.fall_tau_s:g} down",
        "short enough for flicker to become steady",
        "Measure the panel's response again.",
    )


def _followed(light: float, target: float, frames: float) -> float:
    """Light at the end of a frame; `frames` is the time constant in frames."""
    keep = np.exp(-1 / frames) if frames > 0 else 0.0
    return float(target + (light - target) * keep)


def _decay(frames: float, step: complex) -> complex:
    """Integral over one frame of exp(-t / frames) * exp(-step * t), t in frames."""
    if frames <= 0:
        return 0j
    rate = 1 / frames + step
    return complex((1 - np.exp(-rate)) / rate)


def _doubt_s(tau_s: Quantity) -> float:
    return float(np.hypot(tau_s.type_b, rectangular(LEVEL_SHARE * tau_s.value)))


def _slopes(share: Callable[[Panel], float], panel: Panel) -> tuple[float, float]:
    """Change of a panel's share per second of either time constant."""
    rise, fall = panel.rise_tau_s, panel.fall_tau_s
    by_rise = share(replace(panel, rise_tau_s=rise + NUDGE_S)) - share(panel)
    by_fall = share(replace(panel, fall_tau_s=fall + NUDGE_S)) - share(panel)
    return by_rise / NUDGE_S, by_fall / NUDGE_S


def _line(flicker_hz: float, contrast: float, refresh_hz: float, share: Quantity) -> DeliveredLine:
    hold = frame_hold(flicker_hz, refresh_hz)
    return DeliveredLine(
        flicker_hz=flicker_hz, contrast=contrast, frame_hold=hold, panel_response=share
    )


def _share(value: float, type_a: float, type_b: float) -> Quantity:
    return Quantity(value=value, type_a=type_a, type_b=type_b, unit="1")
