"""Flip times held against the frames of a display: which frame each flip belongs to.

Each flip gets a frame number: the whole number of frames since the first flip, so that a missed
frame leaves a gap in the numbers and does not slow the clock. A straight line of frame number on
time then gives the length of a frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from protocols.field import Floats

STRAY_SDS = 5.0
ON_GRID_SHARE = 0.2
STEADY_SHARE = 0.2


@dataclass(frozen=True)
class Frames:
    """Flip times held against the frames of a display.

    `times_s` shape (n,); `numbers` (n,) whole frames since the first flip; `intervals_s` (n - 1,);
    `counts` (n - 1,) frames from each flip to the next; `late_s` (n,) each flip's lateness against
    the straight line through all of them.
    """

    times_s: Floats = field(repr=False)
    numbers: Floats = field(repr=False)
    period_s: float
    late_s: Floats = field(repr=False)

    @property
    def intervals_s(self) -> Floats:
        """Seconds from each flip to the next."""
        return np.asarray(np.diff(self.times_s), float)

    @property
    def counts(self) -> Floats:
        """Frames from each flip to the next: 1 is as it should be, 0 is two flips in one frame."""
        return np.asarray(np.diff(self.numbers), float)

    @property
    def missed(self) -> int:
        """Frames that passed without a flip."""
        return int(np.sum(np.maximum(self.counts - 1, 0)))

    @property
    def doubled(self) -> int:
        """Flips that came in the same frame as the one before."""
        return int(np.sum(self.counts < 1))

    @property
    def single_s(self) -> Floats:
        """Intervals of just one frame, seconds."""
        return np.asarray(self.intervals_s[self.counts == 1], float)


def numbered(times_s: Floats, period_s: float) -> Frames:
    """Flips numbered by a known period, interval by interval; no line is fitted.

    Times of shape (n,), n from 2.
    """
    numbers = _summed(np.round(np.diff(times_s) / period_s))
    return Frames(times_s, numbers, period_s, np.zeros(len(times_s)))


def tracked(times_s: Floats) -> Frames:
    """Flips numbered by the period that fits them all.

    Numbers come from the single intervals first. Where the flips keep to the line (a display's
    do), a flip more than half a frame off it is numbered anew, until nothing changes.
    """
    frames = numbered(times_s, first_period_s(np.diff(times_s)))
    numbers = frames.numbers
    for _ in range(20):
        frames = _fitted(times_s, numbers)
        moved = np.round(frames.late_s / frames.period_s)
        if not np.any(moved) or robust_sd(frames.late_s) > STEADY_SHARE * frames.period_s:
            break
        numbers = np.maximum.accumulate(numbers + moved)
    return frames


def first_period_s(intervals_s: Floats) -> float:
    """The median interval, or the part of it of which the intervals are whole multiples.

    Shape (n,).

    >>> float(round(first_period_s(np.array([0.02, 0.02, 0.01, 0.02, 0.01])), 6))
    0.01
    """
    middle_s = float(np.median(intervals_s))
    for part in (1, 2, 3):
        if _share_on_grid(intervals_s * part / middle_s) >= 0.9:
            return middle_s / part
    return middle_s


def not_stray(late_s: Floats) -> NDArray[np.bool_]:
    """Which flips lie within five robust standard deviations of the middle one, shape (n,)."""
    limit_s = max(STRAY_SDS * robust_sd(late_s), 1e-9)
    return np.asarray(np.abs(late_s - np.median(late_s)) <= limit_s)


def robust_sd(values: Floats) -> float:
    """Standard deviation from the median absolute deviation; a few stray values leave it alone.

    Shape (n,); in the unit of the values.
    """
    return float(1.4826 * np.median(np.abs(values - np.median(values))))


def _fitted(times_s: Floats, numbers: Floats) -> Frames:
    """Least squares, stray flips left out of the second fit."""
    since = times_s - times_s[0]
    rate, start = np.polyfit(since, numbers, 1)
    kept = not_stray(since - (numbers - start) / rate)
    rate, start = np.polyfit(since[kept], numbers[kept], 1)
    return Frames(times_s, numbers, float(1 / rate), since - (numbers - start) / rate)


def _share_on_grid(frames: Floats) -> float:
    near = np.abs(frames - np.round(frames)) < ON_GRID_SHARE
    return float(np.mean(near & (np.round(frames) >= 1)))


def _summed(steps: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(steps)])
