"""The sensitivity grid, the assumed seeing curve, and the extra loss of a place on its own."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from protocols.field import Floats

Singles = NDArray[np.float32]

STEP_DB = 1.5
GRID_DB: Floats = np.arange(-9.0, 36.0 + STEP_DB / 2, STEP_DB)
"""Sensitivities in contrast dB; those below 0 dB are not seen at full contrast."""
HELD_DB: Floats = np.maximum(GRID_DB, -STEP_DB)
"""What a sensitivity counts as in means and SDs: all below full contrast alike."""
LEVELS_DB: Floats = np.arange(0.0, 34.5 + STEP_DB / 2, STEP_DB)
"""Levels that may be shown."""

HEALTHY_DB = 24.0
HEALTHY_SPREAD_DB = 1.6
WIDENING = 0.11
LEAST_SPREAD_DB = 1.4
MOST_SPREAD_DB = 3.8
"""Assumed SD of the seeing curve: 1.6 dB at 24 dB, 0.11 dB more for each dB below, within bounds.

That it widens with loss is Henson 2000, IOVS 41:417; the straight line in contrast dB is our own.
"""

LEAST_EXTRA_DB = 1.5
EXTRA_MEAN_DB = 12.0
EXTRA_FLAT = 0.02
"""Density of an extra loss: exponential of mean 12 dB on a flat floor, an assumption that favours

shallow losses mildly and rules out none."""
DEEP_DB = 8.0
FOOT_DB = -6.0
"""Deeper losses all count as this."""


def spread_db(sensitivity_db: Floats) -> Floats:
    """Assumed SD of the seeing curve at a sensitivity, dB, any shape."""
    straight = HEALTHY_SPREAD_DB + WIDENING * (HEALTHY_DB - sensitivity_db)
    return np.asarray(np.clip(straight, LEAST_SPREAD_DB, MOST_SPREAD_DB))


def _extra_loss() -> Floats:
    """Row: sensitivity without the extra loss; column: with it; rows sum to 1."""
    depth = GRID_DB[:, None] - GRID_DB[None]
    density = np.exp(-depth / EXTRA_MEAN_DB) + EXTRA_FLAT
    density = np.where((depth >= LEAST_EXTRA_DB) & (GRID_DB[None] >= FOOT_DB), density, 0.0)
    foot = int(np.argmin(np.abs(GRID_DB - FOOT_DB)))
    beyond = (np.exp(-(depth[:, foot]) / EXTRA_MEAN_DB) * EXTRA_MEAN_DB / STEP_DB) + 0.1
    density[:, foot] += np.where(density[:, foot] > 0, beyond, 0.0)
    stays = density.sum(axis=1) == 0
    density[stays] = np.eye(len(GRID_DB))[stays]
    return np.asarray(density / density.sum(axis=1, keepdims=True))


def _deep_loss() -> Floats:
    """The same for a loss of at least `DEEP_DB`, all depths alike."""
    depth = GRID_DB[:, None] - GRID_DB[None]
    density = np.where((depth >= DEEP_DB) & (GRID_DB[None] >= FOOT_DB), 1.0, 0.0)
    foot = int(np.argmin(np.abs(GRID_DB - FOOT_DB)))
    density[:, foot] += 4.0
    return np.asarray(density / density.sum(axis=1, keepdims=True))


EXTRA_LOSS = _extra_loss()
DEEP_LOSS = _deep_loss()
