"""How sure the answers of an eye are, and what to do next in general words. Never a diagnosis."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from analysis.result import EyeResult, PlaceResult
from analysis.sentences import counted_doubt
from analysis.verdict.facts import RateEstimate, Trust
from protocols.verdict import FINE, UNUSABLE

CARE = "Read with care"
VERY_LIKELY = 0.95
"""Chance from which a place without a sure grade is said to lie very likely below the limit."""
RARE_P, UNUSUAL_P = 0.01, 0.05
"""Whole-field p at which a field is called rare or unusual among fields without loss."""
MUCH = 0.2
"""Rate of slips, with at least one seen, from which a reader is told of it."""

REPEAT = "repeat today or another day"
CHANCE = f"Next: this may still be chance; {REPEAT}."
UNLIKE = (
    f"Next: as a whole this field is unlike most without loss, which may still be chance; {REPEAT}."
)
RARE = (
    "Next: answers like these are rare without loss; let someone licensed judge, by your local "
    "rules."
)
NOTHING = "Next: these answers call for no repeat; they do not rule out a small or early loss."
AGAIN = "Next: repeat today after a rest."
UNUSABLE_STEP = (
    "Next: do not use this result; repeat, today after a rest or another day."
)
NOT_ALL = "Next: not all places were tested; go on with this eye or repeat another day."


def told_in_full(found: EyeResult) -> EyeResult:
    """The eye with its undecided places, its doubts and its next step in words."""
    if found.status == "skipped" or all(one.estimate_db is None for one in found.places):
        return _without_finding(found)
    doubt = _judged_doubt(found.trust) or counted_doubt(found.reliability)
    parts = (found.sentence, *_undecided(found.places), f"{CARE}: {doubt}" if doubt else "")
    said = " ".join(part for part in parts if part)
    step = UNUSABLE_STEP if is_unusable(found.trust) else AGAIN if doubt else _step(found)
    kept = "" if doubt else _slips(found.trust)
    return replace(found, sentence=said, next_step=f"{step}{kept}")


def _without_finding(found: EyeResult) -> EyeResult:
    """An eye that was skipped, or of which no place is tested to the end."""
    if not is_unusable(found.trust):
        return replace(found, next_step=NOT_ALL)
    said = f"{found.sentence} {CARE}: {_judged_doubt(found.trust)}"
    return replace(found, sentence=said, next_step=UNUSABLE_STEP)


def _undecided(places: Sequence[PlaceResult]) -> list[str]:
    unsure = [one for one in places if one.grade is None and one.estimate_db is not None]
    likely = [one.number for one in unsure if sum(one.grade_probabilities[1:]) >= VERY_LIKELY]
    others = [one.number for one in unsure if one.number not in likely]
    untested = sum(one.estimate_db is None for one in places)
    said = []
    if untested:
        said.append(f"{untested} {'was' if untested == 1 else 'were'} not tested to the end.")
    if likely:
        said.append(f"{_named(likely)} very likely below that level, how far is not sure.")
    if others:
        said.append(f"{_named(others)} not sure: the answers do not decide.")
    return said


def _named(numbers: Sequence[int]) -> str:
    """The beginning of a sentence on these places.

    >>> _named([3]), _named([3, 5, 9])
    ('Place 3 is', 'Places 3, 5 and 9 are')
    """
    if len(numbers) == 1:
        return f"Place {numbers[0]} is"
    return f"Places {', '.join(map(str, numbers[:-1]))} and {numbers[-1]} are"


def _judged_doubt(trust: Trust | None) -> str:
    """What the live tests found fault with; it tells presses at nothing from a gaze astray, which
    counts of wrong catch trials cannot, so it goes before what they say.
    """
    if trust is None or trust.verdict == FINE:
        return ""
    return f"{trust.verdict_words[:1].lower()}{trust.verdict_words[1:]}"


def is_unusable(trust: Trust | None) -> bool:
    """Whether the live tests came to the verdict that the result is not to be used."""
    return trust is not None and trust.verdict == UNUSABLE


def _step(found: EyeResult) -> str:
    """What answers that are not in doubt call for."""
    return _step_by_certainty(found) if found.status == "complete" else NOT_ALL


def _step_by_certainty(found: EyeResult) -> str:
    p = 1.0 if found.indices is None else found.indices.whole_field.p
    if p < RARE_P:
        return RARE
    below = any(place.grade or _likely_below(place) for place in found.places)
    if below:
        return CHANCE
    return UNLIKE if p <= UNUSUAL_P else NOTHING


def _likely_below(place: PlaceResult) -> bool:
    return place.grade is None and sum(place.grade_probabilities[1:]) > 0.5


def _slips(trust: Trust | None) -> str:
    """Slips that too few trials can judge, so that the reader keeps them in mind."""
    if trust is None:
        return ""
    rates = [rate for rate in _rates(trust) if rate.events and rate.rate >= MUCH]
    counts = " and ".join(rate.words.partition(";")[0] for rate in rates)
    return f" Keep in mind: {counts}." if counts else ""


def _rates(trust: Trust) -> tuple[RateEstimate, ...]:
    return trust.false_presses, trust.gaze, trust.misses
