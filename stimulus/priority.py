"""First call on the processor while light is shown, as far as the system grants it.

Real-time scheduling of every thread, those of the drawing library too: measured on two busy cores
(load above 10), no frame of an exam came late, where a raised niceness left most presentations
spoiled. The system keeps a share of time for others, whatever a real-time program does.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager

NICENESS = -12


@contextmanager
def first_in_line() -> Iterator[None]:
    """Inside, ahead of other programs and without pauses to collect garbage.

    The system grants the first to its administrator, and to those it names; without it the exam
    runs all the same, and frames that come late are noticed as ever.
    """
    before, collecting = os.getpriority(os.PRIO_PROCESS, 0), gc.isenabled()
    go_ahead()
    gc.collect()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
        _step_back(before)


def go_ahead() -> bool:
    """Put all threads of this process ahead of others; whether the system granted it."""
    return _real_time() or _nice(NICENESS)


def granted() -> str:
    """What the system grants: "real time", "a raised priority" or "nothing". Takes it, too."""
    if _real_time():
        return "real time"
    return "a raised priority" if _nice(NICENESS) else "nothing"


def _real_time() -> bool:
    if not hasattr(os, "sched_setscheduler"):
        return False
    return _each(lambda thread: os.sched_setscheduler(thread, os.SCHED_RR, os.sched_param(1)))


def _step_back(niceness: int) -> None:
    if hasattr(os, "sched_setscheduler"):
        _each(lambda thread: os.sched_setscheduler(thread, os.SCHED_OTHER, os.sched_param(0)))
    _nice(niceness)


def _nice(niceness: int) -> bool:
    return _each(lambda thread: os.setpriority(os.PRIO_PROCESS, thread, niceness))


def _each(change: Callable[[int], None]) -> bool:
    """Change every thread of this process; False once the system does not let it."""
    for thread in _threads():
        try:
            change(thread)
        except ProcessLookupError:  # it has ended meanwhile
            continue
        except OSError:
            return False
    return True


def _threads() -> list[int]:
    try:
        return [int(name) for name in os.listdir("/proc/self/task")]
    except OSError:
        return [0]
