"""Long staircases on a known seeing curve, for the truths about where they settle."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from protocols.procedures.settings import StaircaseSettings
from protocols.procedures.staircase import Staircase

TRUTH_DB = 20.0
SPREAD_DB = 2.0


def share_seen_where_it_settles(
    seen_in_a_row: int, fainter_ratio: float, step_db: float, exams: int = 1500, seed: int = 1
) -> tuple[float, float]:
    """Chance of being seen at the mean level of many long staircases, with its standard error.

    Without lapses or false presses; the first 300 of 1,000 answers are left out.
    """
    rule = Staircase(
        StaircaseSettings(
            steps_db=(step_db,), seen_in_a_row=seen_in_a_row, fainter_ratio=fainter_ratio,
            reversals=1000, most=1000,
        )
    )  # fmt: skip
    dice = np.random.default_rng(seed)
    state = rule.start(np.full((exams, 1), TRUTH_DB - SPREAD_DB))
    place, nobody = np.zeros(exams, int), np.full(exams, -1)
    levels = []
    for _ in range(1000):
        _, level = rule.propose(state, np.zeros(exams), nobody)
        seen = dice.random(exams) < ndtr((TRUTH_DB - level) / SPREAD_DB)
        state = rule.update(state, place, level, seen)
        levels.append(level)
    each = ndtr((TRUTH_DB - np.mean(levels[300:], axis=0)) / SPREAD_DB)
    return float(each.mean()), float(each.std(ddof=1) / np.sqrt(exams))
