"""What one place's answers say of its sensitivity: a posterior on a grid of delivered contrast dB.

The seeing curve is a cumulative Gaussian of level with a stated spread, lapse and false-press rate.
The prior is half the reference population of that age, half flat over the whole scale, so that the
answers decide wherever they speak at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from analysis.load import Trial
from protocols.field import Floats

SLOPE_DB = 1.5
LAPSE_RATE = 0.02
FALSE_PRESS_RATE = 0.03
"""Assumed seeing curve of a careful participant; common practice, no published source."""

STEP_DB = 0.1
BELOW_FLOOR_DB = 6.0
TOP_DB = 40.0


@dataclass(frozen=True)
class Posterior:
    """Levels (n,) in delivered contrast dB with their probabilities (n,), which sum to 1."""

    levels_db: Floats
    mass: Floats

    @property
    def mean_db(self) -> float:
        """Posterior mean."""
        return float(self.levels_db @ self.mass)

    def interval_db(self, share: float = 0.95) -> tuple[float, float]:
        """Central interval that holds this share."""
        cumulative = np.cumsum(self.mass)
        tail = (1 - share) / 2
        low, high = np.searchsorted(cumulative, [tail, 1 - tail])
        return float(self.levels_db[low]), float(self.levels_db[min(high, len(self.mass) - 1)])

    def probability(self, low_db: float, high_db: float) -> float:
        """Probability that the true value lies in [low, high)."""
        low, high = self.levels_db.searchsorted([low_db, high_db])
        return float(self.mass[low:high].sum())


def seeing_curve(level_db: float, sensitivity_db: Floats) -> Floats:
    """Chance of a press at a delivered level for each sensitivity."""
    noticed = (1 - LAPSE_RATE) * ndtr((sensitivity_db - level_db) / SLOPE_DB)
    return np.asarray(FALSE_PRESS_RATE + (1 - FALSE_PRESS_RATE) * noticed)


def place_posterior(
    trials: Sequence[Trial], mean_db: float, spread_db: float, floor_db: float
) -> Posterior:
    """Posterior of a place from its counting trials; `floor_db` is the display's full contrast."""
    levels = np.arange(floor_db - BELOW_FLOOR_DB, TOP_DB + STEP_DB / 2, STEP_DB)
    bell = np.exp(-0.5 * ((levels - mean_db) / spread_db) ** 2)
    mass = 0.5 * bell / bell.sum() + 0.5 / len(levels)
    for trial in trials:
        p = seeing_curve(-20 * np.log10(trial.shown.contrast_delivered), levels)
        mass = mass * (p if trial.seen else 1 - p)
    return Posterior(levels, mass / mass.sum())
