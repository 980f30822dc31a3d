"""When the operator should say something, and what (own words); the live verdict decides when."""

from __future__ import annotations

from protocols.messages import AdviceKind, Advise
from protocols.verdict import CONCERNS, Concern, Evidence

WORDS: dict[AdviceKind, str] = {
    "look_at_mark": "Say: please keep looking at the mark in the middle, the flicker comes to you.",
    "press_only_when_seen": "Say: press only when you notice a flicker; it is fine to miss many.",
    "stay_attentive": "Say: you are doing well, stay with it a little longer; offer a pause.",
    "explain_again": "The practice was not passed: explain the task again, then it repeats.",
    "practice_not_passed": "The practice was not passed: the exam goes on, read it with care.",
    "practice_waits": "The practice was not passed: explain the task again and repeat it, or waive "
    "it.",
    "unusable_gaze": "The eye still leaves the mark: this result will not be usable; pause or "
    "stop.",
    "unusable_presses": "Presses still come at nothing: this result will not be usable; pause or "
    "stop.",
    "unusable_attention": "Strong targets are still missed: this result will not be usable; pause "
    "or stop.",
}

FIRST: dict[Concern, AdviceKind] = {
    "gaze": "look_at_mark",
    "presses": "press_only_when_seen",
    "attention": "stay_attentive",
}
SECOND: dict[Concern, AdviceKind] = {
    "gaze": "unusable_gaze",
    "presses": "unusable_presses",
    "attention": "unusable_attention",
}


def due(before: Evidence, now: Evidence) -> list[AdviceKind]:
    """Advice called for by tests that were decided by the last answer; no kind comes twice.

    >>> due(Evidence(), Evidence(decided=(1, 0, 0)))
    ['look_at_mark']
    """
    found = []
    for concern, was, count in zip(CONCERNS, before.decided, now.decided, strict=True):
        if count > was and count <= 2:
            found.append((FIRST if count == 1 else SECOND)[concern])
    return found


def advise(kind: AdviceKind) -> Advise:
    """The advice of one kind with its words."""
    return Advise(kind, WORDS[kind])
