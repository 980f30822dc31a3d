"""Who is examined: one invented population, seen through the pattern of each variant.

Fields are drawn at every place that any variant tests, so that all variants meet the same people,
and a loss between the places of a smaller pattern escapes it here as it would in the lab.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.piloting.plan import People
from analysis.piloting.variants import Variant
from protocols.errors import InputError
from protocols.field import Place
from protocols.pattern import Pattern
from protocols.population.draw import BLOCK, Habits, Population, draw_block
from protocols.procedures.interface import Ints
from protocols.procedures.rows import joined, rows_of

SAME_DEG = 0.01
LEAST_OF_EACH = 20
"""Fewest people with and without loss from whom detection is worked out."""


@dataclass(frozen=True)
class Habit:
    """What is set for everybody: nothing ("as drawn"), all lapse rates, or all false presses."""

    kind: str = "as drawn"
    rate: float = 0.0

    def on(self, people: Population) -> Population:
        """The people with this habit."""
        if self.kind == "as drawn":
            return people
        name = "lapse_rate" if self.kind == "lapses" else "false_press_rate"
        return replace(people, **{name: np.full(len(people), self.rate)})


AS_DRAWN = Habit()


@dataclass(frozen=True)
class Crowd:
    """A population that can be drawn block by block, on all places of all variants."""

    people: int
    seed: int
    of: People
    pattern: Pattern

    @property
    def blocks(self) -> int:
        """How many blocks there are."""
        return -(-self.people // BLOCK)

    def block(self, number: int) -> Population:
        """The people of a block, on all places."""
        of = self.of
        drawn = draw_block(
            number,
            self.seed,
            self.pattern,
            of.mix.shares,
            (of.from_age_years, of.to_age_years),
            Habits(of.mean_lapse_rate, of.mean_false_press_rate),
        )
        return rows_of(drawn, slice(self.people - number * BLOCK))

    def columns(self, pattern: Pattern) -> Ints:
        """Where the places of a variant's pattern stand among all places, (places,)."""
        return np.array([_index(self.pattern.places, place) for place in pattern.places])

    def everybody(self) -> Population:
        """All people on all places."""
        return joined([self.block(number) for number in range(self.blocks)])


def crowd_of(people: int, seed: int, of: People, variants: Sequence[Variant]) -> Crowd:
    """The crowd for these variants."""
    places: list[Place] = []
    for variant in variants:
        for place in variant.protocol.pattern.places:
            if _index(places, place) < 0:
                places.append(place)
    return Crowd(people, seed, of, Pattern("all places", tuple(places)))


def require_both_kinds(crowd: Crowd, source: str) -> None:
    """Raise InputError unless there are people enough with and without loss."""
    lossy = int(crowd.everybody().lossy.sum())
    fewest = min(lossy, crowd.people - lossy)
    if fewest < LEAST_OF_EACH:
        which = "with" if lossy == fewest else "without"
        raise InputError(
            f"{source}, people", f"{crowd.people}, of them {fewest} {which} loss",
            f"{LEAST_OF_EACH} or more of each kind", "Draw more people or change the mix.",
        )  # fmt: skip


def at_places(people: Population, columns: Ints) -> Population:
    """The people on some of the places, whose numbers are `columns` (places,)."""
    return replace(
        people,
        sensitivity_db=people.sensitivity_db[:, columns],
        healthy_db=people.healthy_db[:, columns],
    )


def _index(places: Sequence[Place], place: Place) -> int:
    for number, other in enumerate(places):
        if np.hypot(other.x_deg - place.x_deg, other.y_deg - place.y_deg) < SAME_DEG:
            return number
    return -1
