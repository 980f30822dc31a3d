"""A case, a score and a truth in words, for the terminal and for pages."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from analysis.cases.marking import Score
from analysis.cases.operating import FREE_WORDS, IN_TIME
from analysis.cases.questions import ALIKE, NOT_ALIKE
from analysis.cases.truth import NEAR_EDGE_DB, NEAR_LIMIT_DB
from analysis.result import EyeResult, Result
from protocols import RESEARCH_ONLY
from protocols.cases.fields import HiddenField
from protocols.cases.file import Case
from protocols.field import Eye
from stimulus.learn.room import Room

DISPLAY_NOTE = (
    "No case was shown on a real display, so each result warns that the light was not measured; "
    "judge the screen by the notes from the room."
)
RULES = (
    "Reading: one point for each right answer. A depth within "
    f"{NEAR_EDGE_DB:g} dB of the edge between two answers counts for both, and so do eyes whose "
    f"losses differ by a factor of {ALIKE:g} to {NOT_ALIKE:g}.",
    "Places: the mean of the share of lost places you marked and the share of whole places you "
    f"left open; places within {NEAR_LIMIT_DB:g} dB of the limit count neither way.",
    "A faulty room, or answers as bad as the live verdict is made to find, let nobody say where, "
    "how deep, which side or what changed: then “cannot be told” is right.",
    "Running: 3 points for putting the room right before the exam that counts (1 during it, and 1 "
    f"less for each needless mending); 3 for the right word within {IN_TIME} presentations of the "
    "exam’s own advice, or of the start if it gave none (1 later); 2 for leaving the participant "
    f"in peace ({FREE_WORDS} needless word or rest is free, each more costs 1); 2 for the next "
    "step.",
)
LEVELS = ("first steps", "shapes", "answers and rooms", "traps", "two things at once", "hard")


def case_facts(case: Case) -> dict[str, Any]:
    """A case as a list shows it: nothing of what it hides."""
    file = case.file
    return {
        "name": file.name,
        "level": file.level,
        "about": file.about,
        "protocol": file.protocol,
        "seed": file.seed,
        "sha256": case.sha256,
        "notice": RESEARCH_ONLY,
    }


def case_line(case: Case) -> str:
    """A case in one line."""
    return f"{case.name:14} level {case.file.level}  {case.file.about}"


def points_text(points: float) -> str:
    """Points without needless decimals.

    >>> points_text(2.0), points_text(1.25)
    ('2', '1.25')
    """
    return f"{points:.2f}".rstrip("0").rstrip(".")


def total_text(score: Score) -> str:
    """Points of all, with what guessing would give."""
    text = f"{points_text(score.points)} of {points_text(score.of)} points ({score.share:.0%})"
    if score.chance is None or score.chance_interval is None:
        return f"{text}."
    low, high = score.chance_interval
    return (
        f"{text}. Guessing earns {score.chance:.0%} on average; 95 of 100 guessers earn "
        f"{max(low, 0):.0%} to {high:.0%}."
    )


def score_lines(score: Score, about: str) -> Iterator[str]:
    """Each answer beside the truth, why, and points."""
    for mark in score.marks:
        yield f"{mark.asks}  [{points_text(mark.points)} of {points_text(mark.of)}]"
        yield f"    you:   {mark.given}"
        yield f"    truth: {mark.truth}"
        yield f"    why:   {mark.why}"
    yield total_text(score)
    yield about
    yield RESEARCH_ONLY


class TruthRow(dict[str, str]):
    """One place: number, where it lies, and levels as text."""


def truth_rows(room: Room, eye: Eye, result: Result | None) -> list[TruthRow]:
    """Each place of an eye: hidden truth, limit, and what the exam found."""
    field: HiddenField = room.truth.fields[eye]
    found = None if result is None else result.eyes.get(eye)
    return [
        TruthRow(
            number=str(number),
            where=f"{_signed(place.x_deg)}, {_signed(place.y_deg)}",
            truth=f"{field.truth_db[number]:.1f}",
            limit=f"{room.truth.limits_db[eye][number]:.1f}",
            below=f"{room.truth.below_limit_db(eye)[number]:+.1f}",
            found=_found(found, number),
        )
        for number, place in enumerate(field.places)
    ]


def _signed(degrees: float) -> str:
    """Degrees with a sign, and no minus before nothing."""
    return f"{round(degrees, 1) + 0.0:+.1f}"


def _found(eye: EyeResult | None, number: int) -> str:
    if eye is None or eye.places[number].estimate_db is None:
        return "–"
    place = eye.places[number]
    low, high = place.interval_db
    return f"{place.estimate_db:.1f} ({low:.1f} to {high:.1f}), grade {place.grade}"


def result_lines(result: Result) -> Iterator[str]:
    """A result for the terminal: sentence, catch trials, and a line for each place."""
    for eye, found in result.eyes.items():
        yield ""
        yield found.sentence
        rates = found.reliability
        yield (
            f"    blind spot seen {rates.fixation.wrong} of {rates.fixation.shown}, "
            f"pressed at nothing {rates.false_positive.wrong} of {rates.false_positive.shown}, "
            f"strong targets missed {rates.false_negative.wrong} of {rates.false_negative.shown}, "
            f"late {rates.late_answers}, too early {rates.anticipations}"
        )
        if found.trust is not None:
            yield f"    {found.trust.verdict_words}"
        for place in found.places:
            where = f"x {_signed(place.x_deg):>6}  y {_signed(place.y_deg):>6}"
            level = f"{_found(found, place.number)}; limit {place.limit_db:.1f}"
            yield f"    {eye} {place.number:2}  {where}   {level}"
