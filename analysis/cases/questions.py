"""What a reader is asked of a finished result, and the right answers by the hidden truth.

Rules: a result from a faulty set-up, or from a habit at the rates that the live verdict is made to
find, lets nobody say where, how deep, on which side or what changed; then "cannot be told" is
right. All is asked of every case, so that the questions give nothing away. One visit tells nothing
of change. The next step is never to announce a finding: the program is for research.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.cases.truth import NEAR_LIMIT_DB, Truth, depth_grades
from protocols.cases.habits import badness, habit_of
from protocols.field import Eye

CANNOT = "cannot"
Options = tuple[tuple[str, str], ...]
TRUSTED: Options = (
    ("fine", "They can be taken as they are"),
    ("care", "With care: something in them is not as it should be"),
    ("not", "Not at all: this result is not usable"),
)
HABIT: Options = (
    ("careful", "Nothing to note"),
    ("trigger_happy", "Presses came at nothing"),
    ("wandering", "The eye left the mark"),
    ("inattentive", "Strong targets were missed: attention lapsed or faded"),
    ("slow", "Presses came late"),
)
FAULT: Options = (
    ("none", "Nothing"),
    ("wrong_distance", "Eye and screen were not at the distance it was drawn for"),
    ("other_eye_open", "The other eye was not covered"),
    ("bright_room", "The room was too bright"),
    ("uncalibrated_screen", "The screen did not show the contrast it was asked for"),
    ("tilted_head", "The head was tilted"),
)
CANNOT_BE_TOLD = (CANNOT, "It cannot be told from this result")
SHAPE: Options = (
    ("healthy", "Nowhere"),
    ("diffuse", "Everywhere, about alike"),
    ("upper_arc", "A band in the upper half"),
    ("lower_arc", "A band in the lower half"),
    ("nasal_step", "The nasal side of one half"),
    ("isolated", "One lone place"),
    ("patches", "Several patches"),
    ("half_field", "All of the upper or all of the lower half"),
    ("both_arcs", "Above and below, the centre spared"),
    CANNOT_BE_TOLD,
)
DEPTH: Options = (
    ("0", "No place is below the limit"),
    ("1", "Under 4 dB below the limit"),
    ("2", "4 to 8 dB below the limit"),
    ("3", "Over 8 dB below the limit"),
    ("4", "Not seen at full contrast"),
    CANNOT_BE_TOLD,
)
SIDE: Options = (
    ("neither", "Neither eye has lost anything"),
    ("right", "The right eye"),
    ("left", "The left eye"),
    ("alike", "Both about alike"),
    CANNOT_BE_TOLD,
)
CHANGE: Options = (
    ("same", "No: what differs is what repeats differ by"),
    ("deeper", "Yes: something has been lost since"),
    CANNOT_BE_TOLD,
)
NEXT: Options = (
    ("keep", "Keep the result: nothing calls for more"),
    ("confirm", "Confirm it: the same exam on another day"),
    ("explain", "Repeat today, after a rest and the task explained again"),
    ("set_up", "Put the set-up right and repeat today"),
    ("announce", "Tell the participant what they suffer from"),
)
ALIKE, NOT_ALIKE = 1.25, 2.0
"""Ratio of what the eyes lost in all: up to the first they are alike, from the second one is worse,

in between both answers count.
"""


@dataclass(frozen=True)
class Choice:
    """One question with one answer; any of `right` counts. `why` says so in words and numbers."""

    key: str
    asks: str
    options: Options
    right: frozenset[str]
    why: str
    points: int = 1

    def words(self, key: str) -> str:
        """An option in words."""
        return dict(self.options)[key]


@dataclass(frozen=True)
class Places:
    """Mark all places below the limit; numbers neither in `lost` nor in `whole` do not count.

    Where `told` is False the right answer is that it cannot be told.
    """

    key: str
    asks: str
    eye: Eye
    places: int
    lost: frozenset[int]
    whole: frozenset[int]
    told: bool
    why: str
    points: int = 1


Question = Choice | Places
Rule = Callable[["Truth"], Choice]
_HABIT_KEY = {"lapsing": "inattentive", "tiring": "inattentive"}


def questions_of(truth: Truth) -> tuple[Question, ...]:
    """All questions on a result, in order."""
    before: tuple[Rule, ...] = (_trusted, _habit, _fault, _shape)
    after: tuple[Rule, ...] = (_depth, _side, _change, _next)
    return (
        *(rule(truth) for rule in before),
        *(_places(truth, eye) for eye in truth.eyes),
        *(rule(truth) for rule in after),
    )


def _trusted(truth: Truth) -> Choice:
    bad = badness(truth.habit)
    right = "not" if not truth.usable else ("care" if bad > 0 else "fine")
    why = f"The habit is {_named(truth)}"
    if bad > 0:
        why += f", at {bad:.1f} of the rate that makes a result unusable"
    fault = "" if truth.fault == "none" else f"; in the room: {dict(FAULT)[truth.fault].lower()}"
    return Choice("trust", "How far can the answers be trusted?", TRUSTED, frozenset({right}),
                  f"{why}{fault}.")  # fmt: skip


def _named(truth: Truth) -> str:
    return habit_of(truth.habit).replace("_", "-")


def _habit(truth: Truth) -> Choice:
    right = habit_of(truth.habit)
    words = "Hidden habit: " + _habit_numbers(truth)
    return Choice(
        "habit", "How did the participant answer?", HABIT,
        frozenset({_HABIT_KEY.get(right, right)}), words,
    )  # fmt: skip


def _habit_numbers(truth: Truth) -> str:
    """The habit's own numbers."""
    parts = [
        f"{key.replace('_', ' ')} {getattr(truth.habit, key):g}"
        for key in truth.habit.__struct_fields__
        if key != "heeds"
    ]
    return f"{_named(truth)}{', ' if parts else ''}{', '.join(parts)}."


def _fault(truth: Truth) -> Choice:
    why = "The notes from the room give distance, cover, light, screen and head; "
    found = dict(FAULT)[truth.fault].lower()
    if truth.fault == "none":
        found = "all five are as they should be"
    right = frozenset({truth.fault})
    return Choice("set_up", "What was wrong in the room?", FAULT, right, f"{why}{found}.")


def _unusable(truth: Truth) -> str:
    if truth.fault != "none":
        return "The set-up was faulty, so the result is not about this eye's field as such."
    return "The answers are not usable, so nothing more can be read from them."


def _shape(truth: Truth) -> Choice:
    eye = truth.worse
    right = truth.fields[eye].shape if truth.usable else CANNOT
    below = int((truth.below_limit_db(eye) > 0).sum())
    why = f"Hidden in the {eye} eye: {dict(SHAPE)[truth.fields[eye].shape].lower()}; "
    why += f"{below} of {len(truth.fields[eye].places)} places truly lie below the limit."
    return Choice("shape", f"Where has the {_which(truth)} lost sensitivity?", SHAPE,
                  frozenset({right}), why if truth.usable else _unusable(truth))  # fmt: skip


def _which(truth: Truth) -> str:
    return f"{truth.eyes[0]} eye" if len(truth.eyes) == 1 else "worse eye"


def _places(truth: Truth, eye: Eye) -> Places:
    below = truth.below_limit_db(eye)
    lost = frozenset(int(n) for n in np.flatnonzero(below > NEAR_LIMIT_DB))
    whole = frozenset(int(n) for n in np.flatnonzero(below < -NEAR_LIMIT_DB))
    near = len(below) - len(lost) - len(whole)
    why = f"Truly below the limit: {place_numbers(lost)}. "
    why += f"{near} within {NEAR_LIMIT_DB:g} dB of it count neither way."
    return Places(
        f"places_{eye}", f"Mark every place of the {eye} eye that is below the limit.", eye,
        len(below), lost, whole, truth.usable, why if truth.usable else _unusable(truth),
    )  # fmt: skip


def place_numbers(places: frozenset[int]) -> str:
    """Numbers in order, or "none"."""
    return ", ".join(map(str, sorted(places))) or "none"


def _depth(truth: Truth) -> Choice:
    eye = truth.worse
    deepest = int(np.argmax(truth.below_limit_db(eye)))
    level, limit = truth.fields[eye].truth_db[deepest], truth.limits_db[eye][deepest]
    grades = depth_grades(float(level), float(limit), truth.floor_db)
    right = frozenset(map(str, grades)) if truth.usable else frozenset({CANNOT})
    why = f"Place {deepest} of the {eye} eye truly sees {level:.1f} dB, its limit is {limit:.1f}."
    return Choice("depth", f"How deep is the deepest place of the {_which(truth)}?", DEPTH, right,
                  why if truth.usable else _unusable(truth))  # fmt: skip


def _side(truth: Truth) -> Choice:
    right = _sides(truth) if truth.usable else frozenset({CANNOT})
    told = ", ".join(f"{eye} eye {truth.lost_db(eye):.0f} dB" for eye in truth.eyes)
    why = f"Lost over all places: {told}."
    if len(truth.eyes) == 1:
        why = "Only one eye was tested."
    elif not truth.usable:
        why = _unusable(truth)
    return Choice("side", "Which eye has lost more?", SIDE, right, why)


def _sides(truth: Truth) -> frozenset[str]:
    if len(truth.eyes) == 1:
        return frozenset({CANNOT})
    if not truth.any_loss:
        return frozenset({"neither"})
    less, more = sorted(truth.lost_db(eye) for eye in truth.eyes)
    ratio = more / less if less > 0 else np.inf
    found: set[str] = {truth.worse} if ratio > ALIKE else set()
    return frozenset(found | ({"alike"} if ratio < NOT_ALIKE else set()))


def _change(truth: Truth) -> Choice:
    earlier = truth.case.earlier
    right, why = CANNOT, _unusable(truth)
    if earlier is None:
        why = "There is one visit only: change needs two, and a trend three."
    elif truth.usable:
        grew = earlier.shallower_db > 0 and truth.any_loss
        right = "deeper" if grew else "same"
        why = f"{earlier.years:g} years before, loss was {earlier.shallower_db:g} dB shallower."
        if not grew:
            why = f"The field was the same {earlier.years:g} years before; two exams never agree."
    asks = "Has it changed since an earlier visit?"
    return Choice("change", asks, CHANGE, frozenset({right}), why)


def next_step(truth: Truth) -> str:
    """What a result under this truth calls for."""
    if truth.fault != "none":
        return "set_up"
    if not truth.usable:
        return "explain"
    return "confirm" if truth.any_loss else "keep"


_NEXT_WHY = {
    "set_up": "A faulty set-up makes another field; nothing else helps.",
    "explain": "Answers at this rate cannot be read; the task explained again may mend them.",
    "confirm": "A loss in a usable result stands only if it comes back on another day.",
    "keep": "Nothing truly lies below what was drawn for this person.",
}


def _next(truth: Truth) -> Choice:
    right = next_step(truth)
    return Choice("next", "What is the next step?", NEXT, frozenset({right}), _NEXT_WHY[right])
