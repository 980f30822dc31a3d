"""Rise and fall of a panel, fitted to a trace of steps between two levels.

After a step at t0 the light follows end + (start - end) * exp(-(t - t0) / tau); its 10-90 % time
is tau * ln 9. Each edge is fitted alone by nonlinear least squares in start, end, t0 and tau; the
spread between edges is the uncertainty of type A.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from calibration.certificate import Quantity
from calibration.edges import Edges, find_edges, restored
from calibration.samples import rectangular, repeated, scaled
from calibration.traces import Trace
from protocols.errors import InputError
from protocols.field import Floats

LN_9 = float(np.log(9.0))
LEAST_EDGES = 3
MOST_EDGES = 40
BEFORE, AFTER = 0.3, 0.7
LEAST_NEAR = 10
TAUS_BEFORE, TAUS_AFTER, MARGIN = 5.0, 15.0, 100
SETTLING_TAUS = 5.0
LEAST_RATE_HZ = 1000.0
MISFIT_NOISES = 3.0
MISFIT_SHARE = 0.02


@dataclass(frozen=True)
class StepFit:
    """Time constants (seconds) of rise and fall; levels, noise and misfit in the trace's unit."""

    rise_tau_s: Quantity
    fall_tau_s: Quantity
    low: float
    high: float
    noise: float
    misfit_share: float

    @property
    def rise_s(self) -> Quantity:
        """10-90 % rise time."""
        return scaled(self.rise_tau_s, LN_9, "s")

    @property
    def fall_s(self) -> Quantity:
        """90-10 % fall time."""
        return scaled(self.fall_tau_s, LN_9, "s")


@dataclass(frozen=True)
class _Edge:
    tau_s: float
    misfit: float
    room_s: float


def fit_steps(trace: Trace) -> StepFit:
    """Fit every edge of a step trace; AC-coupled traces are levelled first.

    Raises InputError for fewer than three edges up or down, for levels held too briefly to settle,
    for under 1000 samples a second, and for a panel that does not follow an exponential.
    """
    _refuse_slow(trace)
    level = restored(trace)
    edges = find_edges(level)
    up, down = (_fitted(level, edges, rising) for rising in (True, False))
    _refuse_unsettled(up + down, trace)
    misfit = float(np.median([edge.misfit for edge in up + down]))
    _refuse_misfit(misfit, edges, trace)
    return StepFit(
        _tau(up, trace), _tau(down, trace), edges.low, edges.high, edges.noise, misfit / edges.swing
    )


def step_response(t_s: Floats, start: float, end: float, t0_s: float, tau_s: float) -> Floats:
    """Light after a step at `t0_s`, shape (n,). In the unit of `start` and `end`."""
    since = np.maximum(t_s - t0_s, 0.0) / tau_s
    return np.asarray(end + (start - end) * np.exp(-since))


def _tau(found: list[_Edge], trace: Trace) -> Quantity:
    """The unknown place of an edge between two samples is its uncertainty of type B."""
    taus = [edge.tau_s for edge in found]
    return repeated("time constants", taus, LEAST_EDGES, rectangular(0.5 / trace.rate_hz), "s")


def _fitted(trace: Trace, edges: Edges, rising: bool) -> list[_Edge]:
    inner = [n for n in range(1, len(edges.at) - 1) if edges.rising[n] == rising]
    if len(inner) < LEAST_EDGES:
        raise InputError(
            f"{trace.source}, whole {'rising' if rising else 'falling'} edges",
            len(inner),
            f"{LEAST_EDGES} or more",
            "Record more steps from dark to light and back.",
        )
    return [_fit_edge(trace, edges, n) for n in inner[:MOST_EDGES]]


def _fit_edge(trace: Trace, edges: Edges, n: int) -> _Edge:
    before, here, after = (int(edges.at[k]) for k in (n - 1, n, n + 1))
    whole = slice(int(here - BEFORE * (here - before)), int(here + AFTER * (after - here)))
    tau_s = _rough_tau_s(trace.value[whole], edges, trace.rate_hz)
    part = _near(whole, here, tau_s * trace.rate_hz)
    value = trace.value[part]
    t_s = (np.arange(part.start, part.stop) - here) / trace.rate_hz
    start, end = (edges.low, edges.high) if edges.rising[n] else (edges.high, edges.low)

    def misfit_at(p: Floats) -> Floats:
        return step_response(t_s, p[0], p[1], p[2] * tau_s, tau_s * np.exp(p[3])) - value

    found = least_squares(
        misfit_at,
        [start, end, -1.0, 0.0],
        x_scale=[edges.swing, edges.swing, 1.0, 1.0],
    )
    fitted_s = float(tau_s * np.exp(found.x[3]))
    misfit = _misfit(found.fun, t_s - found.x[2] * tau_s, fitted_s)
    return _Edge(fitted_s, misfit, (whole.stop - here) / trace.rate_hz)


def _near(whole: slice, here: int, tau_samples: float) -> slice:
    """The part of an edge's surroundings that tells its shape: some time constants about it."""
    before, after = (int(taus * tau_samples) + MARGIN for taus in (TAUS_BEFORE, TAUS_AFTER))
    return slice(max(whole.start, here - before), min(whole.stop, here + after))


def _misfit(residuals: Floats, since_s: Floats, tau_s: float) -> float:
    """Root mean square of the residuals while the light is on its way: six time constants."""
    near = (since_s >= -tau_s) & (since_s <= 6 * tau_s)
    chosen = residuals[near] if np.sum(near) >= LEAST_NEAR else residuals
    return float(np.sqrt(np.mean(chosen**2)))


def _rough_tau_s(value: Floats, edges: Edges, rate_hz: float) -> float:
    """From the time spent between 30 and 70 %, which is 0.847 time constants."""
    share = (value - edges.low) / edges.swing
    between = int(np.sum((share > 0.3) & (share < 0.7)))
    return max(between, 0.5) / rate_hz / float(np.log(0.7 / 0.3))


def _refuse_slow(trace: Trace) -> None:
    if trace.rate_hz < LEAST_RATE_HZ:
        raise InputError(
            f"{trace.source}, sampling rate in Hz",
            trace.rate_hz,
            f"{LEAST_RATE_HZ:g} or more for rise and fall",
            "Record the trace again with more samples a second.",
        )


def _refuse_unsettled(found: list[_Edge], trace: Trace) -> None:
    slowest_s = float(np.median(np.sort([edge.tau_s for edge in found])[-LEAST_EDGES:]))
    room_s = min(edge.room_s for edge in found)
    if room_s < SETTLING_TAUS * slowest_s:
        raise InputError(
            f"{trace.source}, time at a level in ms",
            round(room_s / AFTER * 1000, 1),
            f"{SETTLING_TAUS / AFTER * slowest_s * 1000:.0f} or more for this panel",
            "Record slower steps, so that each level is reached.",
        )


def _refuse_misfit(misfit: float, edges: Edges, trace: Trace) -> None:
    if misfit > MISFIT_NOISES * edges.noise and misfit > MISFIT_SHARE * edges.swing:
        raise InputError(
            f"{trace.source}, misfit of an exponential",
            f"{misfit / edges.swing:.1%} of the step",
            f"{MISFIT_SHARE:.0%}, or {MISFIT_NOISES:g} times the noise",
            "The panel overshoots, or its backlight flickers: switch overdrive and dimming of the "
            "backlight off, or record the flicker itself at each contrast.",
        )
