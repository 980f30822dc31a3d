"""Draws of whole populations: plainly invented people, the same for the same seed.

People are drawn in blocks of `BLOCK`, each from (seed, block), so that the first ones of a large
population are those of a small one, and any block can be drawn alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from protocols.errors import InputError, require_within
from protocols.field import Floats, Place
from protocols.pattern import Pattern
from protocols.population.healthy import draw_healthy
from protocols.population.losses import LOSSES, Geometry
from protocols.population.seeing import seen_probability
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.rows import joined, rows_of

BLOCK = 500
FLOOR_DB = -6.0
"""Sensitivities below this are all the same: far from seen even at full contrast (0 dB)."""
HEALTHY = "healthy"
SHAPES = (HEALTHY, *LOSSES)
MIXED: Mapping[str, float] = {HEALTHY: 0.5, **{shape: 0.5 / len(LOSSES) for shape in LOSSES}}
"""Half healthy, the rest of all shapes of loss alike."""
AGES_YEARS = (20.0, 85.0)
SLIP_SHAPE = 1.2
USUAL_SLIPS = 1.2 / 41.2
"""Mean lapse rate and mean false-press rate of people; each has their own, by a beta law."""


@dataclass(frozen=True)
class Habits:
    """Mean lapse rate and mean false-press rate over people, shares below 1; 0 for nobody's."""

    lapse_rate: float = USUAL_SLIPS
    false_press_rate: float = USUAL_SLIPS


USUAL_HABITS = Habits()


@dataclass(frozen=True)
class Population:
    """People as rows. sensitivity_db and healthy_db (people, places) in delivered contrast dB,

    the latter before any loss; shape holds indices into `SHAPES`; all else has shape (people,).
    `spread_factor` widens or narrows a person's seeing curve.
    """

    sensitivity_db: Floats
    healthy_db: Floats
    shape: Ints
    age_years: Floats
    spread_factor: Floats
    lapse_rate: Floats
    false_press_rate: Floats

    def __len__(self) -> int:
        return len(self.shape)

    @property
    def lossy(self) -> Bools:
        """Who has a loss, (people,)."""
        return with_loss(self.shape)

    def labels(self) -> list[str]:
        """Name of each person's shape of loss."""
        return [SHAPES[k] for k in self.shape]


def with_loss(shape: Ints) -> Bools:
    """Which shapes of loss are one, (people,)."""
    return np.asarray(shape != SHAPES.index(HEALTHY))


def draw_population(
    people: int,
    seed: int,
    pattern: Pattern,
    mix: Mapping[str, float] = MIXED,
    ages_years: tuple[float, float] = AGES_YEARS,
    habits: Habits = USUAL_HABITS,
) -> Population:
    """Draw people on a right-eye pattern; `mix` is the share of each shape and sums to 1.

    Raises InputError for a count below 1, a negative seed, an unknown shape, or a bad sum.
    """
    require_within("people", people, 1, 10**9, "Ask for at least one.")
    require_within("seed", seed, 0, 2**63, "Give a whole number from 0 up.")
    blocks = [
        draw_block(number, seed, pattern, mix, ages_years, habits)
        for number in range(-(-people // BLOCK))
    ]
    return rows_of(joined(blocks), slice(people))


def draw_block(
    number: int,
    seed: int,
    pattern: Pattern,
    mix: Mapping[str, float] = MIXED,
    ages_years: tuple[float, float] = AGES_YEARS,
    habits: Habits = USUAL_HABITS,
) -> Population:
    """The block of this number, from 0, of the population of that seed: `BLOCK` people.

    Raises InputError for an unknown shape, or shares that do not sum to 1.
    """
    rng = np.random.default_rng([seed, number])
    return _block(rng, pattern.places, _shares(mix), ages_years, habits)


def draw_answers(
    people: Population, place: Ints, level_db: Floats, u: Floats
) -> Bools:
    """Whether each person presses at a level shown at a place; u is a uniform draw a person.

    u lies in [0, 1).
    """
    row = np.arange(len(people))
    p = seen_probability(
        level_db,
        people.sensitivity_db[row, place],
        people.spread_factor,
        people.lapse_rate,
        people.false_press_rate,
    )
    return np.asarray(u < p)


def _shares(mix: Mapping[str, float]) -> Floats:
    unknown = sorted(set(mix) - set(SHAPES))
    if unknown:
        raise InputError("mix", unknown[0], ", ".join(SHAPES), "Use these shapes.")
    shares = np.array([mix.get(shape, 0.0) for shape in SHAPES])
    if shares.min() < 0 or abs(shares.sum() - 1) > 1e-9:
        raise InputError(
            "mix", float(shares.sum()), "shares from 0 up that sum to 1", "Correct the shares."
        )
    return shares


def _block(
    rng: np.random.Generator,
    places: Sequence[Place],
    shares: Floats,
    ages_years: tuple[float, float],
    habits: Habits,
) -> Population:
    age = rng.uniform(*ages_years, BLOCK)
    healthy = draw_healthy(rng, places, age)
    shape = rng.choice(len(SHAPES), BLOCK, p=shares)
    geometry = Geometry(tuple(places))
    depth = np.stack([_depth(rng, geometry, SHAPES[k]) for k in shape])
    return Population(
        sensitivity_db=np.maximum(healthy - depth, FLOOR_DB),
        healthy_db=np.maximum(healthy, FLOOR_DB),
        shape=np.asarray(shape, np.int64),
        age_years=age,
        spread_factor=np.exp(0.2 * rng.standard_normal(BLOCK)),
        lapse_rate=_slips(rng, habits.lapse_rate),
        false_press_rate=_slips(rng, habits.false_press_rate),
    )


def _slips(rng: np.random.Generator, mean: float) -> Floats:
    """Each person's own rate, by a beta law of this mean."""
    if mean == 0:
        return np.zeros(BLOCK)
    return rng.beta(SLIP_SHAPE, SLIP_SHAPE / mean - SLIP_SHAPE, BLOCK)


def _depth(rng: np.random.Generator, geometry: Geometry, shape: str) -> Floats:
    if shape == HEALTHY:
        return np.zeros(len(geometry.places))
    return LOSSES[shape](rng, geometry)
