"""Grades of simulated exams, many at once: what `grading.py` gives for one place at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.field_posterior import spread_fine
from analysis.grading import TRUSTED_FROM, lower_ends_db
from analysis.posterior import BELOW_FLOOR_DB, STEP_DB, TOP_DB, seeing_curve
from protocols.catch import FULL_CONTRAST, PLACE
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints
from protocols.simulate.outcome import History, Outcome
from protocols.simulate.watchers import ANTICIPATION, SEEN

NO_GRADE = -1
BLOCK = 512
"""Places whose posteriors are held in memory at a time."""


@dataclass(frozen=True)
class Trials:
    """Counting trials of each place in order, each (places, trials): level, not a number after

    the last; whether seen; whether the procedure's own (not a full-contrast check).
    """

    level_db: Floats
    seen: Bools
    own: Bools


class Block(NamedTuple):
    """Posteriors of some places: levels (k,) in delivered dB, mass (rows, k), limits (rows,)."""

    levels_db: Floats
    mass: Floats
    limits_db: Floats


@dataclass(frozen=True)
class BatchGrader:
    """Grades against a reference of this spread on a display of this delivery.

    `by_tries` is the rising procedure's rule; else the most probable grade is given.
    """

    spread_db: float
    delivery: float
    by_tries: bool

    def __call__(self, outcome: Outcome, limits_db: Floats, means_db: Floats) -> Ints:
        """Grades (exams, places), -1 where none can be told; limits and means are delivered dB."""
        trials = trials_of(outcome.history, limits_db.shape[1], self.floor_db)
        blocks, again = self.blocks(outcome, trials, limits_db.ravel(), means_db.ravel())
        return self.grades(outcome, trials, self._odds_of(blocks)[again])

    def blocks(
        self, outcome: Outcome, trials: Trials, limits_db: Floats, means_db: Floats
    ) -> tuple[Iterator[Block], Ints]:
        """Posteriors of an outcome's places, equal ones once, and which row each place has.

        From the procedure's own belief where it takes the field as one, else from the answers at
        each place; limits and means (places,).
        """
        levels_db, belief = outcome.belief
        if belief.shape[-1]:
            mass = belief.reshape(-1, belief.shape[-1])
            return self._believed(levels_db, mass, limits_db), np.arange(len(mass))
        return self._answered(trials, limits_db, means_db)

    def grades(self, outcome: Outcome, trials: Trials, odds: Floats) -> Ints:
        """Grades (exams, places) by the probabilities of each, (places, 5)."""
        grades = _by_tries(trials, odds) if self.by_tries else _most_probable(odds)
        return np.where(outcome.finished, grades.reshape(outcome.finished.shape), NO_GRADE)

    @property
    def floor_db(self) -> float:
        """Delivered contrast dB of full contrast."""
        return float(-20 * np.log10(self.delivery)) + 0.0

    def probabilities(self, trials: Trials, limits_db: Floats, means_db: Floats) -> Floats:
        """Probability of each grade, (places, 5); equal places are worked out once."""
        blocks, again = self._answered(trials, limits_db, means_db)
        return self._odds_of(blocks)[again]

    def believed(self, levels_db: Floats, mass: Floats, limits_db: Floats) -> Floats:
        """The same from a procedure's own belief, nominal levels (k,) and mass (places, k)."""
        return self._odds_of(self._believed(levels_db, mass, limits_db))

    def _answered(
        self, trials: Trials, limits_db: Floats, means_db: Floats
    ) -> tuple[Iterator[Block], Ints]:
        key = np.concatenate(
            [limits_db[:, None], means_db[:, None], np.nan_to_num(trials.level_db, nan=-1.0),
             trials.seen],
            axis=1,
        )  # fmt: skip
        first, again = _distinct(key)
        starts = range(0, len(first), BLOCK)
        rows = (first[k : k + BLOCK] for k in starts)
        return (Block(*self._posteriors(trials, means_db, r), limits_db[r]) for r in rows), again

    def _believed(self, levels_db: Floats, mass: Floats, limits_db: Floats) -> Iterator[Block]:
        for start in range(0, len(mass), BLOCK):
            fine_db, fine = spread_fine(levels_db, mass[start : start + BLOCK])
            yield Block(fine_db + self.floor_db, fine, limits_db[start : start + BLOCK])

    def _posteriors(self, trials: Trials, means_db: Floats, rows: Ints) -> tuple[Floats, Floats]:
        """What `posterior.py` says of these places: levels (k,) and probabilities (rows, k)."""
        levels = np.arange(self.floor_db - BELOW_FLOOR_DB, TOP_DB + STEP_DB / 2, STEP_DB)
        bell = np.exp(-0.5 * ((levels - means_db[rows][:, None]) / self.spread_db) ** 2)
        mass = 0.5 * bell / bell.sum(axis=-1, keepdims=True) + 0.5 / len(levels)
        for shown_db, seen in zip(trials.level_db[rows].T, trials.seen[rows].T, strict=True):
            made = np.flatnonzero(np.isfinite(shown_db))
            p = seeing_curve(shown_db[made, None], levels)
            mass[made] *= np.where(seen[made, None], p, 1 - p)
        return levels, mass / mass.sum(axis=-1, keepdims=True)

    def odds(self, block: Block) -> Floats:
        """Probability of each grade, (rows, 5)."""
        levels, mass, limits_db = block
        infinite = np.full(limits_db.shape, np.inf)
        bounds = [infinite, *lower_ends_db(limits_db, self.floor_db), -infinite]
        odds = []
        for high, low in pairwise(bounds):
            inside = (levels >= low[:, None]) & (levels < high[:, None])
            odds.append(np.where(inside, mass, 0.0).sum(axis=-1))
        return np.stack(odds, axis=-1)

    def _odds_of(self, blocks: Iterable[Block]) -> Floats:
        return np.concatenate([self.odds(block) for block in blocks])


def _distinct(rows: Floats) -> tuple[Ints, Ints]:
    """First row of each kind, and for every row which of those it equals; rows (n, k)."""
    packed = np.ascontiguousarray(rows).view(np.dtype((np.void, rows.shape[1] * 8))).ravel()
    _, first, again = np.unique(packed, return_index=True, return_inverse=True)
    return first, again


def trials_of(history: History, places: int, loss_db: float) -> Trials:
    """Counting trials by place, (exams * places, trials); levels become delivered dB."""
    counts = np.isin(history.role, (PLACE, FULL_CONTRAST)) & (history.verdict != ANTICIPATION)
    made = np.zeros((len(counts), places), np.int64)
    slots = np.full(counts.shape, -1)
    for step, rows in enumerate(_rows(counts)):
        at_places = history.place[rows, step]
        slots[rows, step] = made[rows, at_places]
        made[rows, at_places] += 1
    shape = (len(counts), places, int(made.max(initial=1)))
    exam, when = np.nonzero(counts)
    at = (exam, history.place[exam, when], slots[exam, when])
    level_db, seen = np.full(shape, np.nan), np.zeros(shape, np.bool_)
    own = np.zeros(shape, np.bool_)
    level_db[at] = history.level_db[exam, when] + loss_db
    seen[at] = history.verdict[exam, when] == SEEN
    own[at] = history.role[exam, when] == PLACE
    flat = (-1, shape[2])
    return Trials(level_db.reshape(flat), seen.reshape(flat), own.reshape(flat))


def _rows(counts: Bools) -> list[NDArray[np.int64]]:
    return [np.flatnonzero(counts[:, step]) for step in range(counts.shape[1])]


def _by_tries(trials: Trials, odds: Floats) -> Ints:
    tries, seen = trials.own.sum(axis=-1), (trials.seen & trials.own).any(axis=-1)
    between = 1 + odds[:, 1:4].argmax(axis=-1)
    return np.where(seen, np.where(tries == 1, 0, between), 4)


def _most_probable(odds: Floats) -> Ints:
    best = odds.argmax(axis=-1)
    trusted = np.take_along_axis(odds, best[:, None], axis=-1)[:, 0] >= TRUSTED_FROM
    return np.where(trusted, best, NO_GRADE)
