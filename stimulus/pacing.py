"""The frame clock: when a frame may be flipped, and whether it came late.

On a display-locked window the flip itself waits for the display. Elsewhere (a virtual screen) the
flip returns at once, and frames are paced in software on a fixed grid of an assumed rate.

A frame is late
- display-locked: when it came more than 1.5 frames after the one before it,
- paced in software: when its flip ended more than half a frame after its slot.
A late frame never moves the grid: the next slot is the first grid point still ahead.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from stimulus.clock import clock

ASSUMED_HZ = 60.0
LOCKED_RANGE_HZ = (23.0, 370.0)
STEADY_SHARE = 0.1
PROBE_FLIPS = 40
WARM_UP_FLIPS = 10
PROBE_DELAY_S = 0.002
SPIN_S = 0.001


@dataclass(frozen=True)
class Refresh:
    """What the flips of a window showed.

    `refresh_hz` is measured when the flips wait for the display, else the rate of software pacing;
    `interval_sd_s` is the standard deviation of the measured intervals, `flips` their number.
    """

    refresh_hz: float
    display_locked: bool
    interval_sd_s: float
    flips: int


class Pacer(Protocol):
    """Waits for the next frame and says whether a flip came late."""

    def start(self) -> None:
        """Begin a run of frames; the first is never late by what went before."""

    def wait(self) -> None:
        """Return when the next frame may be flipped."""

    def flipped(self, t_s: float) -> bool:
        """Note a flip that ended at `t_s`; True when it was late."""


class LockedPacer:
    """For a flip that waits for the display by itself."""

    def __init__(self, refresh_hz: float) -> None:
        self._longest_s = 1.5 / refresh_hz
        self._last_s: float | None = None

    def start(self) -> None:
        """Begin a run of frames: the first has no interval to judge."""
        self._last_s = None

    def wait(self) -> None:
        """Nothing: the flip waits."""

    def flipped(self, t_s: float) -> bool:
        """True when more than 1.5 frames passed since the flip before."""
        late = self._last_s is not None and t_s - self._last_s > self._longest_s
        self._last_s = t_s
        return late


class SoftwarePacer:
    """For a flip that returns at once: slots on a fixed grid, kept by sleep and a short spin."""

    def __init__(
        self,
        refresh_hz: float = ASSUMED_HZ,
        now: Callable[[], float] = clock,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._frame_s = 1 / refresh_hz
        self._now, self._sleep = now, sleep
        self._origin_s = now()
        self._slot = 0

    def start(self) -> None:
        """Begin a run of frames at the first slot still ahead."""
        self._slot = max(self._slot, math.floor(self._elapsed_slots(self._now())))

    def wait(self) -> None:
        """Return at the next slot, or at once when it has passed."""
        self._slot += 1
        slot_s = self._origin_s + self._slot * self._frame_s
        left_s = slot_s - self._now() - SPIN_S
        if left_s > 0:
            self._sleep(left_s)
        while self._now() < slot_s:
            pass

    def flipped(self, t_s: float) -> bool:
        """True when the flip ended more than half a frame after its slot."""
        passed = self._elapsed_slots(t_s)
        late = passed - self._slot > 0.5
        self._slot = max(self._slot, math.floor(passed))
        return late

    def _elapsed_slots(self, t_s: float) -> float:
        return (t_s - self._origin_s) / self._frame_s


def pacer_for(refresh: Refresh) -> Pacer:
    """The pacer that suits what was measured."""
    if refresh.display_locked:
        return LockedPacer(refresh.refresh_hz)
    return SoftwarePacer(refresh.refresh_hz)


def judge_refresh(
    plain_s: Sequence[float],
    delayed_s: Sequence[float],
    delay_s: float = PROBE_DELAY_S,
    assumed_hz: float = ASSUMED_HZ,
) -> Refresh:
    """Decide from flip intervals, in seconds, whether the flips wait for the display.

    They do when the plain intervals are those of a display (23 to 370 Hz), when nine in ten lie
    within 10 % of their median, and when `delay_s` of other work before the flip, in the delayed
    intervals, leaves the interval as it was: a flip that waits takes the work up.

    >>> judge_refresh([1 / 75] * 20, [1 / 75] * 20).display_locked
    True
    >>> judge_refresh([0.001] * 20, [0.003] * 20).refresh_hz
    60.0
    """
    plain, delayed = np.asarray(plain_s, float), np.asarray(delayed_s, float)
    middle_s = float(np.median(plain))
    locked = (
        1 / LOCKED_RANGE_HZ[1] < middle_s < 1 / LOCKED_RANGE_HZ[0]
        and _is_steady(plain, middle_s)
        and float(np.median(delayed)) - middle_s < delay_s / 2
    )
    steady = plain[np.abs(plain - middle_s) <= STEADY_SHARE * middle_s]
    rate_hz = 1 / float(np.mean(steady)) if locked else assumed_hz
    return Refresh(rate_hz, locked, float(np.std(plain)), len(plain) + len(delayed))


def measure_refresh(
    flip: Callable[[], None],
    assumed_hz: float = ASSUMED_HZ,
    now: Callable[[], float] = clock,
    sleep: Callable[[float], None] = time.sleep,
) -> Refresh:
    """Time a window's flips, plain and after a short delay, and judge them; 1.5 s at 60 Hz."""
    _flip_intervals(flip, WARM_UP_FLIPS, 0.0, now, sleep)
    plain = _flip_intervals(flip, PROBE_FLIPS, 0.0, now, sleep)
    delayed = _flip_intervals(flip, PROBE_FLIPS, PROBE_DELAY_S, now, sleep)
    return judge_refresh(plain, delayed, PROBE_DELAY_S, assumed_hz)


def _flip_intervals(
    flip: Callable[[], None],
    flips: int,
    delay_s: float,
    now: Callable[[], float],
    sleep: Callable[[float], None],
) -> list[float]:
    flip()
    times = [now()]
    for _ in range(flips):
        if delay_s:
            sleep(delay_s)
        flip()
        times.append(now())
    return [float(b - a) for a, b in pairwise(times)]


def _is_steady(intervals_s: NDArray[np.float64], middle_s: float) -> bool:
    near = np.abs(intervals_s - middle_s) <= STEADY_SHARE * middle_s
    return float(np.mean(near)) >= 0.9
