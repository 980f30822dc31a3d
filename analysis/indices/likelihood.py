"""How likely a place's answers are for every sensitivity, relative to the reference mean.

One row a place, one column a point of `RELATIVE_DB`; the same for every procedure, since the
chance of an answer does not depend on why its level was chosen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from analysis.posterior import FALSE_PRESS_RATE, LAPSE_RATE, SLOPE_DB
from protocols.field import Floats
from protocols.population.seeing import spread_db
from protocols.procedures.interface import Bools

STEP_DB = 0.5
RELATIVE_DB: Floats = np.arange(-48.0, 15.0 + STEP_DB / 2, STEP_DB)
"""Sensitivity less the reference mean of that age and place, dB."""


@dataclass(frozen=True)
class Slips:
    """Rates that the seeing curve assumes: missed targets, uncaused presses, and presentations

    that fell elsewhere because the gaze was off the mark. `widens` says that the curve widens as
    sensitivity falls, by the law of Henson 2000 as `protocols.population.seeing` carries it over.
    """

    lapse: float = LAPSE_RATE
    false_press: float = FALSE_PRESS_RATE
    away: float = 0.0
    widens: bool = False


USUAL = Slips()
"""What a careful participant does."""

def likelihoods(
    level_db: Floats, seen: Bools, means_db: Floats, slips: Slips = USUAL
) -> Floats:
    """Likelihood of the answers at each place, (places, points), the largest of a row 1.

    Delivered levels (places, trials), not a number where there is none; seen (places, trials);
    reference means (places,).
    """
    found = chances(level_db, seen, means_db, slips)
    return np.asarray(found / found.max(axis=1, keepdims=True))


def chances(
    level_db: Floats, seen: Bools, means_db: Floats, slips: Slips = USUAL
) -> Floats:
    """Chance of just these answers at each place, (places, points); arguments as above."""
    found = np.ones((len(level_db), len(RELATIVE_DB)))
    sensitivity = means_db[:, None] + RELATIVE_DB
    for level, answer in zip(level_db.T, seen.T, strict=True):
        made = np.flatnonzero(np.isfinite(level))
        p = seeing(level[made, None], sensitivity[made], slips)
        found[made] *= np.where(answer[made, None], p, 1 - p)
    return found


def seeing(level_db: Floats, sensitivity_db: Floats, slips: Slips) -> Floats:
    """Chance of a press; arguments broadcast.

    A presentation that fell elsewhere is seen as often as not, whatever the place's sensitivity.
    """
    slope_db = spread_db(sensitivity_db) if slips.widens else SLOPE_DB
    noticed = (1 - slips.lapse) * ndtr((sensitivity_db - level_db) / slope_db)
    noticed = (1 - slips.away) * noticed + slips.away * 0.5
    return np.asarray(slips.false_press + (1 - slips.false_press) * noticed)
