"""Kinds of attention: how often a person misses what was noticed, presses at nothing, is unsteady.

A person is one of a few kinds; which, catch trials tell in part. A blank that is pressed at speaks
for false presses, a full-contrast target that is missed where a weaker one was seen for lapses; a
blind-spot target tells of fixation, which is not asked here. Kinds and their shares are assumed.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from protocols.catch import BLANK, FULL_CONTRAST
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.joint.scale import GRID_DB, spread_db

FALSE_PRESS_RATES: Floats = np.array([0.01, 0.04, 0.03, 0.01, 0.08, 0.25])
LAPSE_RATES: Floats = np.array([0.01, 0.04, 0.03, 0.12, 0.02, 0.05])
SPREAD_FACTORS: Floats = np.array([1.0, 1.0, 1.8, 1.0, 1.0, 1.3])
SHARES: Floats = np.array([0.35, 0.35, 0.12, 0.06, 0.07, 0.05])
"""Careful, ordinary, unsteady, inattentive, eager, pressing at anything."""
KINDS = len(SHARES)


def press_chance(level_db: Floats) -> Floats:
    """Chance of a press at a level for each kind and grid sensitivity: (..., kinds, grid)."""
    false, lapse = FALSE_PRESS_RATES[:, None], LAPSE_RATES[:, None]
    away = GRID_DB - np.asarray(level_db, float)[..., None, None]
    noticed = ndtr(away / (SPREAD_FACTORS[:, None] * spread_db(GRID_DB)))
    return np.asarray(false + (1 - false) * (1 - lapse) * noticed)


def fresh(exams: int) -> Floats:
    """Shares of the kinds before any catch trial, shape (exams, kinds)."""
    return np.tile(SHARES, (exams, 1))


def after_catch(shares: Floats, role: Ints, seen: Bools) -> Floats:
    """Shares after one catch trial an exam; roles as in `protocols.catch`, others tell nothing.

    Shares (exams, kinds), roles and answers (exams,).
    """
    on_blank = FALSE_PRESS_RATES
    on_full = FALSE_PRESS_RATES + (1 - FALSE_PRESS_RATES) * (1 - LAPSE_RATES)
    pressed = np.where((role == BLANK)[:, None], on_blank, on_full)
    chance = np.where(seen[:, None], pressed, 1 - pressed)
    weighed = shares * np.where(tells(role)[:, None], chance, 1.0)
    return np.asarray(weighed / weighed.sum(axis=-1, keepdims=True))


def tells(role: Ints) -> Bools:
    """Whether a presentation's role is a catch trial that tells of attention. Any shape."""
    return np.asarray((role == BLANK) | (role == FULL_CONTRAST))


def was_wrong(role: Ints, seen: Bools) -> Bools:
    """Whether a catch trial was answered against what was shown. Any shape."""
    return np.asarray(((role == BLANK) & seen) | ((role == FULL_CONTRAST) & ~seen))
