"""How the person of a case answers, and what a word or a rest changes. Invented numbers.

Each habit is one way of answering badly with one rate; `heeds` is the share of it that goes when
the operator says the right thing. A habit that reaches the rates that the live verdict is made to
find (`protocols.verdict.BADLY`) makes a result unusable; a milder one is to be read with care.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from scipy.special import ndtr

from protocols.observer import (
    Fatigue,
    Fixation,
    ObserverFile,
    Pressing,
    Reaction,
    Seeing,
    Share,
)
from protocols.verdict import BADLY

Word = Literal["look", "press", "stay", "quick", "rest"]
WORDS: dict[Word, str] = {
    "look": "Please keep looking at the mark; the flicker comes to you.",
    "press": "Press only when you notice a flicker; it is fine to miss many.",
    "stay": "You are doing well; stay with it a little longer.",
    "quick": "Press as soon as you notice it; do not wait to be sure.",
    "rest": "Let us rest for a minute.",
}
ACCEPT_UNTIL_S = 1.0
SLOW_SD_S = 0.12
LONG_MIN = 1.0
"""Minutes after which a tiring person is judged: about the length of one eye."""


class Careful(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="habit", tag="careful"
):
    """Presses when something was seen, and only then."""


class TriggerHappy(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="habit", tag="trigger_happy"
):
    """Presses at nothing in this share of presentations."""

    false_press_rate: Annotated[float, msgspec.Meta(gt=0.0, le=0.9)]
    heeds: Share = 0.9


class Wandering(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="habit", tag="wandering"
):
    """Looks away in this share of presentations."""

    away_share: Annotated[float, msgspec.Meta(gt=0.0, le=1.0)]
    away_sd_deg: Annotated[float, msgspec.Meta(gt=0.0, le=15.0)] = 7.0
    heeds: Share = 0.9


class Lapsing(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="habit", tag="lapsing"
):
    """Misses this share of targets for want of attention."""

    lapse_rate: Annotated[float, msgspec.Meta(gt=0.0, le=0.9)]
    heeds: Share = 0.9


class Tiring(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="habit", tag="tiring"
):
    """Misses more and more: this much of the targets more with each minute without a rest."""

    lapse_rate_per_min: Annotated[float, msgspec.Meta(gt=0.0, le=0.9)]
    heeds: Share = 0.9


class Slow(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="habit", tag="slow"
):
    """Waits to be sure: mean response time, seconds."""

    mean_s: Annotated[float, msgspec.Meta(ge=0.5, le=2.0)]
    heeds: Share = 0.9


Habit = Careful | TriggerHappy | Wandering | Lapsing | Tiring | Slow
HABITS: tuple[type, ...] = (Careful, TriggerHappy, Wandering, Lapsing, Tiring, Slow)
REMEDY: dict[str, Word] = {
    "trigger_happy": "press",
    "wandering": "look",
    "lapsing": "stay",
    "tiring": "rest",
    "slow": "quick",
}
USUAL_S = Reaction().mean_s
RATES: dict[str, tuple[str, float]] = {
    "trigger_happy": ("false_press_rate", 0.0),
    "wandering": ("away_share", 0.0),
    "lapsing": ("lapse_rate", 0.0),
    "tiring": ("lapse_rate_per_min", 0.0),
    "slow": ("mean_s", USUAL_S),
}
"""The number of each habit that a word makes smaller, and what it comes down to at most."""


def habit_of(habit: Habit) -> str:
    """The habit's name as a case writes it.

    >>> habit_of(Slow(0.9))
    'slow'
    """
    return str(type(habit).__struct_config__.tag)


def badness(habit: Habit) -> float:
    """The habit's rate over the rate from which a result is unusable: 1 and more is unusable.

    >>> badness(Careful()), badness(TriggerHappy(BADLY.presses))
    (0.0, 1.0)
    """
    if isinstance(habit, TriggerHappy):
        return habit.false_press_rate / BADLY.presses
    if isinstance(habit, Wandering):
        return habit.away_share / BADLY.gaze
    if isinstance(habit, Lapsing):
        return habit.lapse_rate / BADLY.attention
    if isinstance(habit, Tiring):
        return habit.lapse_rate_per_min * LONG_MIN / BADLY.attention
    if isinstance(habit, Slow):
        return float(ndtr((habit.mean_s - ACCEPT_UNTIL_S) / SLOW_SD_S)) / BADLY.attention
    return 0.0


def told(habit: Habit, words: frozenset[Word], rested: bool = False) -> Habit:
    """The habit after what was said. A rest is counted in time, so it weakens none here,

    unless a person who is `rested` is asked for as a whole.
    """
    word = REMEDY.get(habit_of(habit))
    if word is None or word not in words or (word == "rest" and not rested):
        return habit
    key, usual = RATES[habit_of(habit)]
    answers: Any = habit
    left = usual + (getattr(answers, key) - usual) * (1 - answers.heeds)
    changed: Habit = msgspec.structs.replace(habit, **{key: left})
    return changed


def observer_of(habit: Habit) -> ObserverFile:
    """The simulated participant with this habit; its field is not used."""
    rate, away, lapse, tired = 0.01, Fixation(), 0.01, Fatigue()
    reaction = Reaction()
    if isinstance(habit, TriggerHappy):
        rate = max(rate, habit.false_press_rate)
    elif isinstance(habit, Wandering):
        away = Fixation(away_share=habit.away_share, away_sd_deg=habit.away_sd_deg)
    elif isinstance(habit, Lapsing):
        lapse = max(lapse, habit.lapse_rate)
    elif isinstance(habit, Tiring):
        tired = Fatigue(lapse_rate_per_min=habit.lapse_rate_per_min)
    elif isinstance(habit, Slow):
        slow = (habit.mean_s - USUAL_S) / (ACCEPT_UNTIL_S - USUAL_S)
        reaction = Reaction(mean_s=habit.mean_s, sd_s=0.05 + (SLOW_SD_S - 0.05) * min(slow, 1.0))
    return ObserverFile(
        format=1,
        about="the person of a teaching case",
        seeing=Seeing(lapse_rate=lapse),
        pressing=Pressing(false_press_rate=rate),
        reaction=reaction,
        fatigue=tired,
        fixation=away,
    )
