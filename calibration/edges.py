"""Edges in a photodiode trace, and the level that an audio input took away."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calibration.traces import Trace
from protocols.errors import InputError
from protocols.field import Floats

SWING_TO_NOISE = 10.0
LOW, HIGH = 0.3, 0.7
LEVELS_PERCENT = (2.0, 98.0)
EARLY, SETTLED = 0.1, 0.35
LEAST_MEMORY = 0.1
EDGE_GUARD = 0.05


@dataclass(frozen=True)
class Edges:
    """Where a trace crosses from its dark to its light level and back.

    `at` shape (n,) sample numbers, in order; `rising` (n,) whether light goes up. `low` and `high`
    are the two levels, `noise` the standard deviation of one sample.
    """

    at: NDArray[np.int64] = field(repr=False)
    rising: NDArray[np.bool_] = field(repr=False)
    low: float
    high: float
    noise: float

    @property
    def swing(self) -> float:
        """Light level less dark level. In the unit of the trace."""
        return self.high - self.low


def find_edges(trace: Trace) -> Edges:
    """Edges between two levels, 30 and 70 % of the way as thresholds, so noise makes none.

    Raises InputError where the swing is not ten times the noise or there is no edge.
    """
    low, high = (float(v) for v in np.percentile(trace.value, LEVELS_PERCENT))
    noise = sample_noise(trace.value)
    share = (trace.value - low) / (high - low) if high > low else np.zeros(len(trace.value))
    at, rising = _crossings(share)
    if high - low < SWING_TO_NOISE * noise or not len(at):
        raise InputError(
            trace.source,
            f"no edges: levels {low:.4g} and {high:.4g}, noise {noise:.2g}",
            f"steps of {SWING_TO_NOISE:g} times the noise or more",
            "Put the photodiode on the flashing square, raise the gain, and record again.",
        )
    return Edges(at, rising, low, high, noise)


def sample_noise(value: Floats) -> float:
    """Standard deviation of a sample's noise, from the differences of neighbours.

    The middle one of their sizes is taken, so that edges do not count. Shape (n,), in the unit of
    the trace.
    """
    second = value[2:] - 2 * value[1:-1] + value[:-2]
    return float(1.4826 * np.median(np.abs(second)) / np.sqrt(6))


def restored(trace: Trace) -> Trace:
    """An AC-coupled step trace with its plateaus level again; others are returned as they are.

    An audio input is a high-pass filter of one time constant T; its inverse adds the running
    integral over T. 1/T is the least-squares value that leaves the later part of every plateau
    level. The zero of the result stays unknown. Raises InputError without edges, and for an input
    that forgets a level within a tenth of a plateau: what it lost cannot be put back.
    """
    if not trace.ac_coupled:
        return trace
    edges = find_edges(trace)
    value = trace.value - _resting_value(trace, edges)
    total_s = np.cumsum(value) / trace.rate_hz
    _refuse_forgetful(_inverse_hz(value, total_s, edges, EARLY), edges, trace)
    inverse_hz = _inverse_hz(value, total_s, edges, SETTLED)
    return replace(trace, value=value + inverse_hz * total_s)


def _inverse_hz(value: Floats, total_s: Floats, edges: Edges, settled: float) -> float:
    """1/T: minus the slope of the trace on its running integral, in the later part of plateaus."""
    across = within = 0.0
    for start, stop in pairwise(edges.at):
        part = slice(*_settled(int(start), int(stop), settled))
        if part.stop <= part.start:
            continue
        integral = total_s[part] - np.mean(total_s[part])
        across += float(integral @ value[part])
        within += float(integral @ integral)
    return max(-across / within, 0.0) if within else 0.0


def _refuse_forgetful(inverse_hz: float, edges: Edges, trace: Trace) -> None:
    plateau_s = float(np.median(np.diff(edges.at))) / trace.rate_hz if len(edges.at) > 1 else 0.0
    if inverse_hz * plateau_s > 1 / LEAST_MEMORY:
        raise InputError(
            f"{trace.source}, time constant of the AC-coupled input in ms",
            round(1000 / inverse_hz, 1),
            f"{LEAST_MEMORY * plateau_s * 1000:.0f} or more for steps this slow",
            "Record quicker steps, or use an input that passes lower frequencies.",
        )


def _resting_value(trace: Trace, edges: Edges) -> float:
    """Mean over whole cycles: an AC-coupled input has zero there but for the recorder's offset."""
    ups = edges.at[edges.rising]
    return float(np.mean(trace.value[ups[0] : ups[-1]])) if len(ups) > 1 else 0.0


def _settled(start: int, stop: int, settled: float) -> tuple[int, int]:
    length = stop - start
    return int(start + settled * length), int(stop - EDGE_GUARD * length)


def _crossings(share: Floats) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Samples at which the state, low or high with a gap between, turns over."""
    known = np.flatnonzero((share < LOW) | (share > HIGH))
    high = share[known] > HIGH
    turns = np.flatnonzero(np.diff(high.astype(int)))
    return known[turns + 1], high[turns + 1]
