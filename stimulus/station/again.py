"""Whether an exam should be repeated, and why: one sentence for the operator."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from stimulus.station.index import Summary

Weight = Literal["repeat", "consider", "no need"]
SPOILED_SHARE = 0.1
REASONS = {
    "unusable_gaze": "the eye kept leaving the mark",
    "unusable_presses": "presses kept coming at nothing",
    "unusable_attention": "strong targets kept being missed",
    "look_at_mark": "the eye left the mark for a while",
    "press_only_when_seen": "presses came at nothing for a while",
    "stay_attentive": "strong targets were missed for a while",
    "practice_not_passed": "the practice was not passed",
}


@dataclass(frozen=True)
class Advice:
    """What to do, with the reason."""

    weight: Weight
    sentence: str


def repeat_advice(summary: Summary) -> Advice:
    """Advice on one exam; the first reason that applies decides."""
    if summary.trouble:
        return Advice("repeat", f"Repeat: the record cannot be read. {summary.trouble}")
    if summary.eye_corrected:
        return Advice(
            "repeat",
            "Repeat: the other eye was tested than was entered, so no target lay on its blind spot "
            "and the gaze was not checked.",
        )
    told = [REASONS[kind] for kind in summary.advice if kind.startswith("unusable")]
    if told:
        return Advice("repeat", f"Repeat after a pause and a new explanation: {_joined(told)}.")
    if not summary.finished:
        return Advice(
            "repeat", f"Not finished ({summary.reason.rstrip('.')}): go on with it, or repeat."
        )
    if summary.presentations and summary.spoiled / summary.presentations > SPOILED_SHARE:
        return Advice(
            "repeat",
            f"Repeat: the display was late in {summary.spoiled} of {summary.presentations} "
            "presentations. Close other programs first.",
        )
    cared = [REASONS[kind] for kind in summary.advice if kind in REASONS]
    if cared:
        return Advice("consider", f"Repeat if there is time: {_joined(cared)}.")
    return Advice("no need", "No repeat needed: nothing speaks against this sitting.")


def _joined(reasons: list[str]) -> str:
    return " and ".join(dict.fromkeys(reasons))
