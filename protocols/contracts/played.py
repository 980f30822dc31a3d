"""Exams by a procedure alone, against invented thresholds, for the contract and other tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from protocols.draws import Stream, uniform
from protocols.field import Floats, Place
from protocols.procedures.interface import Bools, Ints, Procedure
from protocols.procedures.psychometric import seeing_probability

WHERE = tuple(
    Place(x, y)
    for x, y in [(0, 0), (8.2, 4.8), (-8.2, 4.8), (0, -9.5), (18.8, 6.8), (-18.8, -6.8)]
)
PLACES = len(WHERE)
SPREAD_DB, SLIPS = 1.5, 0.02


@dataclass(frozen=True)
class Step:
    """State before an answer, what was proposed and answered, and which exams were still open."""

    state: Any
    place: Ints
    level_db: Floats
    seen: Bools
    going: Bools


def limits_of(exams: int, places: int = PLACES, seed: int = 1) -> Floats:
    """Reference limits (exams, places), dB."""
    return np.random.default_rng(seed).uniform(5, 30, (exams, places)).round(2)


def truth_of(limits_db: Floats, seed: int = 2) -> Floats:
    """Thresholds (exams, places) in nominal dB around healthy ones, one place in four lost."""
    dice = np.random.default_rng(seed)
    healthy = limits_db + dice.normal(5.8, 2.5, limits_db.shape)
    losses = (dice.random(limits_db.shape) < 0.25) * dice.uniform(0, 40, limits_db.shape)
    return np.asarray(healthy - losses, float)


def answers(truth_db: Floats, seeds: Ints, step: int, place: Ints, level_db: Floats) -> Bools:
    """Whether each exam's target is seen, (exams,): spread 1.5 dB, 2 % false presses and lapses."""
    threshold_db = truth_db[np.arange(len(place)), place]
    p = seeing_probability(level_db, threshold_db, SPREAD_DB, SLIPS, SLIPS)
    draws: Floats = np.asarray(uniform(seeds, step, Stream.SEE), float)
    return np.less(draws, p)


def play(
    rule: Procedure[Any], limits_db: Floats, truth_db: Floats, seeds: Ints, steps: int = 400
) -> tuple[Any, list[Step]]:
    """Last state and trail of exams that go on until all are finished, `steps` at most.

    Limits and truth are (exams, places) in nominal dB, seeds (exams,).
    """
    state, last = rule.start(limits_db), np.full(len(limits_db), -1)
    trail: list[Step] = []
    for number in range(steps):
        going: Bools = np.asarray(~rule.finished(state).all(axis=-1), np.bool_)
        if not going.any():
            break
        place, level_db = rule.propose(state, uniform(seeds, number, Stream.PLACE), last)
        seen: Bools = answers(truth_db, seeds, number, place, level_db)
        trail.append(Step(state, place, level_db, seen, going))
        state = rule.update(state, np.where(going, place, -1), level_db, seen)
        last = place
    return state, trail
