"""What a result would say of each place of many simulated exams: level, interval, grade.

The same rules as `analysis.places` for one recorded exam; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.batch import BatchGrader, trials_of
from protocols.field import Floats
from protocols.procedures.interface import Ints
from protocols.simulate.outcome import Outcome

NOT_SEEN = 4
TAIL = 0.025


@dataclass(frozen=True)
class Levels:
    """Estimates and 95 % intervals in delivered dB, and grades, each (exams, places).

    What lies below full contrast counts as full contrast; a place that was not tested to its end
    has no estimate (not a number) and grade -1.
    """

    estimate_db: Floats
    low_db: Floats
    high_db: Floats
    grade: Ints


def levels_of(outcome: Outcome, grader: BatchGrader, limits_db: Floats, means_db: Floats) -> Levels:
    """Levels of an outcome; limits and means of the reference (exams, places), delivered dB."""
    trials = trials_of(outcome.history, limits_db.shape[1], grader.floor_db)
    blocks, again = grader.blocks(outcome, trials, limits_db.ravel(), means_db.ravel())
    worked = [(grader.odds(block), *summaries(block.levels_db, block.mass)) for block in blocks]
    odds, mean, low, high = (np.concatenate(parts)[again] for parts in zip(*worked, strict=True))
    grade, floor = grader.grades(outcome, trials, odds), grader.floor_db
    shape = grade.shape
    estimate = np.where(grade == NOT_SEEN, floor, np.maximum(mean.reshape(shape), floor))
    return Levels(
        np.where(outcome.finished, estimate, np.nan),
        np.maximum(low.reshape(shape), floor),
        np.maximum(high.reshape(shape), floor),
        grade,
    )


def summaries(levels_db: Floats, mass: Floats) -> tuple[Floats, Floats, Floats]:
    """Mean and ends of the central 95 % of each row; levels (k,), mass (rows, k)."""
    cumulative = np.cumsum(mass, axis=-1)
    last = len(levels_db) - 1
    low, high = (
        levels_db[np.minimum((cumulative < share).sum(axis=-1), last)] for share in (TAIL, 1 - TAIL)
    )
    return mass @ levels_db, low, high

