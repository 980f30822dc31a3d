"""Answers made by hand."""

from __future__ import annotations

import numpy as np

from analysis.indices.summary import Answers

MEAN_DB, SPREAD_DB, FLOOR_DB = 24.0, 2.5, 1.65
LIMIT_DB = MEAN_DB - 2.3263 * SPREAD_DB


def pinned(deviation_db: np.ndarray) -> Answers:
    """Each place seen twice 2 dB below its sensitivity and missed twice 2 dB above it."""
    truth = MEAN_DB + deviation_db
    level = np.stack([truth - 2, truth - 2, truth + 2, truth + 2], axis=1)
    seen = np.tile([True, True, False, False], (len(truth), 1))
    return Answers(level, seen, np.full(len(truth), MEAN_DB), np.ones(len(truth), bool),
                   SPREAD_DB, FLOOR_DB)  # fmt: skip


def graded_people(misses: list[int]) -> tuple[Answers, np.ndarray]:
    """Places missed so many times on the way up from the limit by 4 dB, then seen, with limits."""
    levels = np.full((len(misses), 4), np.nan)
    seen = np.zeros((len(misses), 4), bool)
    for row, count in enumerate(misses):
        steps = LIMIT_DB - 4.0 * np.arange(count + 1)
        levels[row, : count + 1] = steps
        seen[row, count] = True
    answers = Answers(levels, seen, np.full(len(misses), MEAN_DB),
                      np.ones(len(misses), bool), SPREAD_DB, FLOOR_DB)  # fmt: skip
    return answers, np.full(len(misses), LIMIT_DB)
