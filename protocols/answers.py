"""What a press means: seen, not seen, too early, too late.

A press counts from `accept_from_s` to `accept_until_s` after onset (common practice, no published
source). Earlier after onset it is an anticipation: nobody reacts that fast, so the answer tells
nothing and the target is shown again. Later it is late: not seen, but counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Verdict = Literal["seen", "not_seen", "anticipation", "late"]


@dataclass(frozen=True)
class Judged:
    """A verdict with the response time in seconds of the press that decided it, if any."""

    verdict: Verdict
    response_time_s: float | None


def judge(presses_s: Sequence[float], accept_from_s: float, accept_until_s: float) -> Judged:
    """Verdict on the presses (seconds after onset, in order) up to the next onset.

    >>> judge([0.42], 0.1, 1.0).verdict, judge([0.05, 0.42], 0.1, 1.0).verdict
    ('seen', 'anticipation')
    >>> judge([1.2], 0.1, 1.0).verdict, judge([], 0.1, 1.0).verdict
    ('late', 'not_seen')
    """
    after_onset = [t for t in presses_s if t >= 0]
    if not after_onset:
        return Judged("not_seen", None)
    first = after_onset[0]
    if first < accept_from_s:
        return Judged("anticipation", first)
    return Judged("seen" if first <= accept_until_s else "late", first)
