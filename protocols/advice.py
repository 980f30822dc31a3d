"""When the operator should say something, and what (own words; thresholds common practice)."""

from __future__ import annotations

from protocols.messages import AdviceKind, Advise

WORDS: dict[AdviceKind, str] = {
    "look_at_mark": "Say: please keep looking at the mark in the middle, the flicker comes to you.",
    "press_only_when_seen": "Say: press only when you notice a flicker; it is fine to miss many.",
    "stay_attentive": "Say: you are doing well, stay with it a little longer; offer a pause.",
    "explain_again": "The practice was not passed: explain the task again, then it repeats.",
    "practice_not_passed": "The practice was not passed: the exam goes on, read it with care.",
}

EVIDENCE_FOR_ADVICE = 2
"""Wrong answers of one sort in one eye that call for a word."""


def due(blind_spot_seen: int, false_presses: int, full_contrast_missed: int) -> set[AdviceKind]:
    """Advice called for by the counts of an eye so far.

    >>> sorted(due(2, 1, 0))
    ['look_at_mark']
    """
    counts: dict[AdviceKind, int] = {
        "look_at_mark": blind_spot_seen,
        "press_only_when_seen": false_presses,
        "stay_attentive": full_contrast_missed,
    }
    return {kind for kind, count in counts.items() if count >= EVIDENCE_FOR_ADVICE}


def advise(kind: AdviceKind) -> Advise:
    """The advice of one kind with its words."""
    return Advise(kind, WORDS[kind])
