"""Noticing that the program stood still: the machine was asleep, stopped, or far too busy."""

from __future__ import annotations

import time
from collections.abc import Callable

SPOILS_S = 0.25
"""A gap above this while a presentation and its answer window run spoils it: it is repeated."""

HOLDS_S = 2.0
"""A gap above this in mid-test holds the exam until the participant is there again."""


def waking_clock() -> float:
    """Seconds on a clock that runs on while the machine sleeps, where the system has one."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


class Stillness:
    """Asked at every turn of a loop; tells how long the loop did not turn."""

    def __init__(self, now: Callable[[], float] = waking_clock) -> None:
        self._now = now
        self._last_s = now()
        self.longest_s = 0.0

    def reset(self) -> None:
        """Begin anew: what was before does not count."""
        self._last_s, self.longest_s = self._now(), 0.0

    def gap_s(self) -> float:
        """Seconds since the last question; the longest since `reset` is kept."""
        now_s = self._now()
        gap_s, self._last_s = now_s - self._last_s, now_s
        self.longest_s = max(self.longest_s, gap_s)
        return gap_s


def stood_still(gap_s: float) -> str:
    """Why the exam is held, in one sentence."""
    return (
        f"The machine stood still for {gap_s:.1f} s, asleep or too busy: see that the participant "
        "is ready"
    )
