"""Kinds of attention: how often a person misses what was noticed and presses at nothing.

A person is one of a few kinds; which, catch trials tell. A blank that is pressed at speaks for
false presses, a full-contrast target that is missed where a weaker one was seen speaks for lapses;
a blind-spot target tells of fixation, which is not asked here. Kinds and their shares are assumed.
"""

from __future__ import annotations

import numpy as np

from protocols.catch import BLANK, FULL_CONTRAST
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints

FALSE_PRESS_RATES: Floats = np.array([0.01, 0.04, 0.01, 0.08, 0.25, 0.25])
LAPSE_RATES: Floats = np.array([0.01, 0.04, 0.12, 0.02, 0.02, 0.15])
SHARES: Floats = np.array([0.40, 0.40, 0.06, 0.08, 0.04, 0.02])
KINDS = len(SHARES)


def press_chance(noticed: Floats) -> Floats:
    """Chance of a press for each kind, shape (exams, kinds, grid), from (exams, grid)."""
    false, lapse = FALSE_PRESS_RATES[:, None], LAPSE_RATES[:, None]
    return np.asarray(false + (1 - false) * (1 - lapse) * noticed[:, None, :])


def fresh(exams: int) -> Floats:
    """Shares of the kinds before any catch trial, shape (exams, kinds)."""
    return np.tile(SHARES, (exams, 1))


def after_catch(shares: Floats, role: Ints, seen: Bools) -> Floats:
    """Shares after one catch trial an exam; roles as in `protocols.catch`, others tell nothing."""
    on_blank = FALSE_PRESS_RATES
    on_full = FALSE_PRESS_RATES + (1 - FALSE_PRESS_RATES) * (1 - LAPSE_RATES)
    pressed = np.where((role == BLANK)[:, None], on_blank, on_full)
    chance = np.where(seen[:, None], pressed, 1 - pressed)
    tells = ((role == BLANK) | (role == FULL_CONTRAST))[:, None]
    weighed = shares * np.where(tells, chance, 1.0)
    return np.asarray(weighed / weighed.sum(axis=-1, keepdims=True))


def was_wrong(role: Ints, seen: Bools) -> Bools:
    """Whether a catch trial was answered against what was shown."""
    return np.asarray(((role == BLANK) & seen) | ((role == FULL_CONTRAST) & ~seen))
