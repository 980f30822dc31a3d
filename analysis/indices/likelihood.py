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


BLOCK = 1000
"""Places worked out at a time, so that many exams at once do not fill the memory."""
USUAL = Slips()
"""What a careful participant does."""


def likelihoods(
    level_db: Floats, seen: Bools, means_db: Floats, slips: Slips = USUAL
) -> Floats:
    """Likelihood of the answers at each place, (places, points), the largest of a row 1.

    Delivered levels (places, trials), not a number where there is none; seen (places, trials);
    reference means (places,).
    """
    return scaled(chances(level_db, seen, means_db, slips))


def scaled(found: Floats) -> Floats:
    """Chances (places, points) over the largest of each row."""
    return np.asarray(found / found.max(axis=1, keepdims=True))


def chances(
    level_db: Floats, seen: Bools, means_db: Floats, slips: Slips = USUAL
) -> Floats:
    """Chance of just these answers at each place, (places, points); arguments as above."""
    blocks = [slice(k, k + BLOCK) for k in range(0, len(level_db), BLOCK)]
    parts = [
        heard(curves(level_db[b], means_db[b], slips.widens), level_db[b], seen[b], slips)
        for b in blocks
    ]
    return np.concatenate(parts) if parts else np.ones((0, len(RELATIVE_DB)))


def curves(level_db: Floats, means_db: Floats, widens: bool) -> Floats:
    """Seeing curves without slips of all presentations, place by place, (presentations, points).

    They cost most of a likelihood and do not depend on how often a participant slips.
    """
    sensitivity_db = means_db[:, None] + RELATIVE_DB
    even = np.full((len(means_db), 1), SLOPE_DB)
    slope_db = spread_db(sensitivity_db) if widens else even
    place, trial = np.nonzero(np.isfinite(level_db))
    above_db = sensitivity_db[place] - level_db[place, trial, None]
    return np.asarray(ndtr(above_db / slope_db[place]))


def heard(noticed: Floats, level_db: Floats, seen: Bools, slips: Slips) -> Floats:
    """Chance of just these answers, (places, points), from the `curves` of these levels."""
    made = np.isfinite(level_db)
    p = seeing(noticed, slips)
    each = np.where(seen[made][:, None], p, 1 - p)
    found = np.ones((len(level_db), len(RELATIVE_DB)))
    counts = made.sum(axis=1)
    if len(each):
        first = (counts.cumsum() - counts)[counts > 0]
        found[counts > 0] = np.multiply.reduceat(each, first, axis=0)
    return found


def seeing(noticed: Floats, slips: Slips) -> Floats:
    """Chance of a press where a careful participant notices with this chance, in any one shape.

    A presentation that fell elsewhere is seen as often as not, whatever the place's sensitivity.
    """
    attended = (1 - slips.lapse) * noticed
    steady = (1 - slips.away) * attended + slips.away * 0.5
    return np.asarray(slips.false_press + (1 - slips.false_press) * steady)
