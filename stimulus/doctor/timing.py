"""Clocks, priority, and how fast the processor counts."""

from __future__ import annotations

import os
import time

from stimulus.doctor.finding import Finding, good
from stimulus.doctor.outside import Failed, ask
from stimulus.machine import DRIFT_S, synchronised, wall_drift_s

COARSE_S = 1e-4
"""Presses are stamped to a few milliseconds: a clock must be far finer than that."""
FEW_EXAMS_PER_SECOND = 200.0
LIMITS = (
    'echo "$USER - rtprio 50" | sudo tee /etc/security/limits.d/50-ripplefield.conf'
    "    (then log in anew)"
)


def clock() -> Finding:
    """The smallest step of the clock that every interval is read from, and the wall clock."""
    step_s, drift_s = _step_s(), wall_drift_s()
    found = f"steps of {1e6 * step_s:.2f} µs; the wall clock is {_kept()}"
    if step_s > COARSE_S:
        means = "Response times are no finer than that."
        return Finding("Clock", "slow", found, means, "Run on the machine itself, not in a guest.")
    if abs(drift_s) > DRIFT_S:
        means = "Records' dates are wrong meanwhile; intervals are not touched."
        return Finding("Clock", "slow", f"{found}; it jumped by {drift_s:.3f} s while watched",
                       means, "timedatectl status    (wait until it is synchronised)")  # fmt: skip
    return good("Clock", found)


def _kept() -> str:
    return synchronised().replace("whether a time service keeps it is not known",
                                  "kept by nobody known")  # fmt: skip


def _step_s() -> float:
    steps = []
    for _ in range(200):
        first = time.perf_counter()
        while (then := time.perf_counter()) == first:
            pass
        steps.append(then - first)
    return min(steps)


def priority() -> Finding:
    """Asks for real-time scheduling in a program of its own."""
    name = "Priority"
    try:
        granted = ask("stimulus.doctor.priority_program")["granted"]
    except Failed as failed:
        granted = f"nothing: {failed}"
    if granted == "real time":
        return good(name, "real-time scheduling is granted")
    means = "On a busy machine frames may come late; presentations with late frames are repeated."
    return Finding(name, "slow", f"the system grants {granted}", means, LIMITS)


def processor() -> Finding:
    """Plays simulated exams for a moment."""
    name, cores = "Processor", len(os.sched_getaffinity(0))
    try:
        rate = ask("stimulus.doctor.speed_program")["exams_per_second"]
    except Failed as failed:
        means = "Nothing can be simulated or graded."
        found = f"simulated exams do not run: {failed}"
        return Finding(name, "missing", found, means, "pip install -c constraints.txt .")
    minutes = 100_000 / rate / cores / 60
    found = (
        f"{cores} core{'s' if cores > 1 else ''}, about {rate:.0f} simulated exams a second on "
        f"each; 100,000 take about {minutes:.1f} min"
    )
    if rate < FEW_EXAMS_PER_SECOND:
        means = "Simulations take long; exams do not suffer."
        return Finding(name, "slow", found, means, "Close other programs, or use --cluster.")
    return good(name, found)
