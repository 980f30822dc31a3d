"""One sentence in plain words for an eye. It describes answers, it never diagnoses."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.result import PlaceResult, Reliability
from protocols.field import Eye

DOUBTFUL_FROM = 2
"""Wrong catch trials of a kind from which the sentence says that answers are doubtful."""


GAZE_NOT_CHECKED = (
    "The eye was entered wrongly and corrected afterwards, so whether it kept to the mark was not "
    "checked."
)


def eye_sentence(
    eye: Eye,
    status: str,
    places: Sequence[PlaceResult],
    corrected: bool = False,
) -> str:
    """What the answers of an eye show."""
    name = f"{eye.capitalize()} eye"
    if status == "skipped":
        return f"{name}: not tested to the end; the operator skipped it."
    if not any(place.estimate_db is not None for place in places):
        return f"{name}: no place was tested to the end, so nothing can be said."
    graded = [place for place in places if place.grade is not None]
    text = f"{name}: {_finding(graded, len(places))}."
    return f"{text} {GAZE_NOT_CHECKED}" if corrected else text


def _finding(graded: Sequence[PlaceResult], total: int) -> str:
    if not graded:
        return "no place has a sure grade against the level that 99 % of people of this age see"
    within = sum(place.grade == 0 for place in graded)
    of = f"all {total}" if len(graded) == total else f"{len(graded)} of {total}"
    if within == len(graded):
        return f"{of} places were seen at the level that 99 % of people of this age see"
    below = [place for place in graded if place.grade]
    return f"{_shortfall(below, len(graded))}; {_whereabouts(below)}"


def _shortfall(below: Sequence[PlaceResult], total: int) -> str:
    unseen = sum(place.grade == 4 for place in below)
    if len(below) == unseen:
        were = "was" if unseen == 1 else "were"
        return f"{unseen} of {total} places {were} not seen at full contrast"
    text = f"{len(below)} of {total} places needed more contrast than 99 % of people of this age"
    return f"{text}, {unseen} of them not seen at full contrast" if unseen else text


def _whereabouts(places: Sequence[PlaceResult]) -> str:
    if len(places) == 1:
        return f"it lies {_direction(places[0])}"
    upper, lower = (sum(sign * p.y_deg > 0.5 for p in places) for sign in (1, -1))
    if upper == len(places):
        return "all lie in the upper half"
    if lower == len(places):
        return "all lie in the lower half"
    text = f"{upper} {'lies' if upper == 1 else 'lie'} in the upper and {lower} in the lower half"
    between = len(places) - upper - lower
    return f"{text}, {between} on the line between them" if between else text


def _direction(place: PlaceResult) -> str:
    if abs(place.x_deg) < 0.5 and abs(place.y_deg) < 0.5:
        return "at the centre"
    vertical = "" if abs(place.y_deg) < 0.5 else ("up" if place.y_deg > 0 else "down")
    side = "" if abs(place.x_deg) < 0.5 else ("right" if place.x_deg > 0 else "left")
    return " and to the ".join(part for part in (vertical, side) if part) or "at the centre"


def counted_doubt(reliability: Reliability) -> str:
    """A caution where catch trials of a kind were often wrong; empty if none were."""
    reasons = []
    if reliability.fixation.wrong >= DOUBTFUL_FROM:
        reasons.append("the eye often left the mark")
    if reliability.false_positive.wrong + reliability.anticipations >= DOUBTFUL_FROM:
        reasons.append("presses came without anything to see")
    if reliability.false_negative.wrong >= DOUBTFUL_FROM:
        reasons.append("strong targets were missed where weak ones had been seen")
    if not reasons:
        return ""
    return f"{' and '.join(reasons)}; explain the task again and repeat."
