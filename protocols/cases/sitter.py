"""The person of a case at the screen: presses that follow from field, habit and set-up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from protocols.cases.fields import HiddenField
from protocols.cases.habits import Careful, Habit, Word, observer_of, told
from protocols.cases.setups import (
    NoFault,
    SetUp,
    met_contrast,
    met_place,
    seeing_eyes,
    size_gain_db,
)
from protocols.field import Eye
from protocols.observer import Observer, noticed_probability, on_retina, presses_given
from protocols.presentation import Presentation

CAREFUL, NO_FAULT = Careful(), NoFault()


@dataclass(frozen=True)
class Sitter:
    """Person and room as they are just now; the seed is that of the sitting."""

    fields: Mapping[Eye, HiddenField]
    seed: int
    habit: Habit = CAREFUL
    set_up: SetUp = NO_FAULT
    words: frozenset[Word] = frozenset()

    @property
    def habit_now(self) -> Habit:
        """The habit after what was said so far."""
        return told(self.habit, self.words)

    @property
    def observer(self) -> Observer:
        """The simulated participant just now."""
        return Observer(observer_of(self.habit_now), self.seed)

    def hearing(self, word: Word) -> Sitter:
        """The same person after a word."""
        return replace(self, words=self.words | {word})

    def put_right(self) -> Sitter:
        """The same person in a room without fault."""
        return replace(self, set_up=NO_FAULT)


def press_times_s(
    sitter: Sitter, shown: Presentation, delivery: float, tired_s: float, window_s: float
) -> tuple[float, ...]:
    """Presses in seconds after onset. `delivery` is delivered over nominal contrast."""
    chances = [
        _chance(sitter, shown, eye, delivery, tired_s)
        for eye in seeing_eyes(sitter.set_up, shown.eye)
    ]
    return presses_given(sitter.observer, shown.index, max(chances), window_s)


def _chance(
    sitter: Sitter, shown: Presentation, eye: Eye, delivery: float, tired_s: float
) -> float:
    """Chance that one eye notices: at the place, and with the contrast, that it meets in truth."""
    met = replace(shown, eye=eye, place=met_place(sitter.set_up, shown.place))
    retina = on_retina(sitter.observer, met)
    sensitivity = sitter.fields[eye].sensitivity_db(retina)
    sensitivity += size_gain_db(sitter.set_up, shown.place)
    contrast = met_contrast(sitter.set_up, shown.contrast) * delivery
    return noticed_probability(sitter.observer, met, retina, sensitivity, contrast, tired_s)
