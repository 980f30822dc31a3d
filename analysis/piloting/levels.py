"""What a result would say of each place of many simulated exams: level, interval, grade.

The same rules as `analysis.places` for one recorded exam; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.batch import BLOCK, BatchGrader, distinct, trials_of
from analysis.field_posterior import spread_fine
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
    grade, floor = grader(outcome, limits_db, means_db), grader.floor_db
    mean, low, high = _believed(outcome, grader) or _answered(outcome, grader, means_db)
    shape = grade.shape
    estimate = np.where(grade == NOT_SEEN, floor, np.maximum(mean.reshape(shape), floor))
    return Levels(
        np.where(outcome.finished, estimate, np.nan),
        np.maximum(low.reshape(shape), floor),
        np.maximum(high.reshape(shape), floor),
        grade,
    )


Summaries = tuple[Floats, Floats, Floats]


def _believed(outcome: Outcome, grader: BatchGrader) -> Summaries | None:
    """From the procedure's own belief, where it takes the field as one."""
    levels_db, belief = outcome.belief
    if not belief.shape[-1]:
        return None
    flat = belief.reshape(-1, belief.shape[-1])
    blocks = []
    for start in range(0, len(flat), BLOCK):
        fine_db, mass = spread_fine(levels_db, flat[start : start + BLOCK])
        blocks.append(summaries(fine_db + grader.floor_db, mass))
    return _joined(blocks)


def _answered(outcome: Outcome, grader: BatchGrader, means_db: Floats) -> Summaries:
    """From the answers at each place; equal places are worked out once."""
    trials = trials_of(outcome.history, means_db.shape[1], grader.floor_db)
    means = means_db.ravel()
    shown = np.nan_to_num(trials.level_db, nan=-1.0)
    first, again = distinct(np.concatenate([means[:, None], shown, trials.seen], axis=1))
    blocks = [
        summaries(*grader.posteriors(trials, means, first[k : k + BLOCK]))
        for k in range(0, len(first), BLOCK)
    ]
    mean, low, high = _joined(blocks)
    return mean[again], low[again], high[again]


def summaries(levels_db: Floats, mass: Floats) -> Summaries:
    """Mean and ends of the central 95 % of each row; levels (k,), mass (rows, k)."""
    cumulative = np.cumsum(mass, axis=-1)
    last = len(levels_db) - 1
    low, high = (
        levels_db[np.minimum((cumulative < share).sum(axis=-1), last)] for share in (TAIL, 1 - TAIL)
    )
    return mass @ levels_db, low, high


def _joined(blocks: list[Summaries]) -> Summaries:
    mean, low, high = (np.concatenate(parts) for parts in zip(*blocks, strict=True))
    return mean, low, high
