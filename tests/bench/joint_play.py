"""Plays whole exams of invented people through any procedure, catch trials among them.

Every exam is shown `BLANKS` blanks and as many full-contrast targets at places where a weaker one
was seen, at fixed points of the exam; they are answered by the person and not counted.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from analysis.reference import limits_db, load_reference
from protocols.catch import BLANK, FULL_CONTRAST
from protocols.draws import pick
from protocols.pattern import Pattern
from protocols.population.draw import Population, draw_answers
from protocols.population.seeing import seen_probability
from protocols.procedures.rows import rows_of

BLANK_AFTER = (6, 12, 18)
FULL_AFTER = (9, 15, 21)
FULL_DB = 0.0
MOST = 400


@dataclass(frozen=True)
class Played:
    """How exams ended: mean, low, high (people, places), presentations at places (people,)."""

    mean_db: np.ndarray
    low_db: np.ndarray
    high_db: np.ndarray
    presentations: np.ndarray


def limits_for(people: Population, pattern: Pattern) -> np.ndarray:
    """Levels that 99 % of people of each age see, (people, places), by the bundled reference."""
    reference = load_reference()
    ages = np.round(people.age_years).astype(int)
    by_age = {age: limits_db(reference, pattern.places, int(age)) for age in np.unique(ages)}
    return np.stack([by_age[age] for age in ages])


def play(procedure: Any, people: Population, limits: np.ndarray, seed: int) -> Played:
    """Every person's exam to its own end."""
    ended = _Ended(len(people), limits.shape[1])
    state, alive = procedure.start(limits), np.arange(len(people))
    last = np.full(len(people), -1)
    weaker = np.zeros(limits.shape, bool)
    for count in range(MOST):
        done = procedure.finished(state).all(axis=1)
        ended.keep(procedure, rows_of(state, np.flatnonzero(done)), alive[done], count)
        left = np.flatnonzero(~done)
        if not len(left):
            return ended.played()
        state, alive, last, weaker = rows_of(state, left), alive[left], last[left], weaker[left]
        u = np.random.default_rng([seed, count]).random((len(people), 5))[alive]
        these = some(people, alive)
        last, level = procedure.propose(state, u[:, 0], last)
        seen = draw_answers(these, last, level, u[:, 1])
        state = procedure.update(state, last, level, seen)
        weaker[np.arange(len(alive)), last] |= seen & (level > FULL_DB)
        state = _catch_trials(procedure, state, these, weaker, count + 1, u)
    raise AssertionError(f"an exam took more than {MOST} presentations")


def some(people: Population, rows: np.ndarray) -> Population:
    """Some people of a population."""
    return replace(people, **{f.name: getattr(people, f.name)[rows] for f in fields(people)})


def _catch_trials(
    procedure: Any, state: Any, people: Population, weaker: np.ndarray, count: int, u: np.ndarray
) -> Any:
    if count in BLANK_AFTER:
        role = np.full(len(people), BLANK)
        return procedure.heed(state, role, u[:, 2] < people.false_press_rate)
    if count in FULL_AFTER:
        return procedure.heed(state, *_full_contrast(people, weaker, u))
    return state


def _full_contrast(
    people: Population, weaker: np.ndarray, u: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    possible = weaker.any(axis=1)
    place = pick(u[:, 3], np.where(possible[:, None], weaker, True))
    p = seen_probability(
        FULL_DB,
        people.sensitivity_db[np.arange(len(people)), place],
        people.spread_factor,
        people.lapse_rate,
        people.false_press_rate,
    )
    return np.where(possible, FULL_CONTRAST, 0), u[:, 4] < p


class _Ended:
    def __init__(self, people: int, places: int) -> None:
        self._fields = [np.zeros((people, places)) for _ in range(3)]
        self._presentations = np.zeros(people, int)

    def keep(self, procedure: Any, state: Any, rows: np.ndarray, count: int) -> None:
        if not len(rows):
            return
        low, high = procedure.interval_db(state)
        values = (procedure.estimate(state).mean_db, low, high)
        for kept, value in zip(self._fields, values, strict=True):
            kept[rows] = value
        self._presentations[rows] = count

    def played(self) -> Played:
        return Played(*self._fields, self._presentations)
