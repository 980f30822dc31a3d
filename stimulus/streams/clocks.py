"""From the shared clock to the clock of the streams."""

from __future__ import annotations

from collections.abc import Callable

from stimulus.clock import clock

ROUNDS = 5


def offset_s(stream_clock: Callable[[], float], own_clock: Callable[[], float] = clock) -> float:
    """Seconds to add to a time of ours for the same moment on the streams' clock.

    Of five readings between two of ours the closest counts; half its width is the doubt.
    """
    return min(_reading(stream_clock, own_clock) for _ in range(ROUNDS))[1]


def _reading(
    stream_clock: Callable[[], float], own_clock: Callable[[], float]
) -> tuple[float, float]:
    before_s = own_clock()
    there_s = stream_clock()
    after_s = own_clock()
    return after_s - before_s, there_s - (before_s + after_s) / 2
