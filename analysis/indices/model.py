"""The model of healthy fields and of loss behind the indices.

Healthy people of an age differ from the reference mean by a height that all places of a field
share, and from place to place; together they have the reference's spread. The share of the first
is an assumption (`SHARED`), since a reference of limits does not tell it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from analysis.indices.likelihood import RELATIVE_DB
from protocols.field import Floats

SHARED = 0.5
"""Share of the variance between people that all places of a field have in common."""
HEIGHTS_DB: Floats = np.arange(-7.0, 8.0)
DEPTHS_DB: tuple[tuple[int, int], ...] = ((2, 5), (4, 8), (8, 16), (16, 35))
"""Depths of loss, from and to, each evenly spread: slight, early, moderate, deep."""
SHIFTS_DB: Floats = np.arange(-7.0 - 35.0, 8.0)


@dataclass(frozen=True)
class Model:
    """Kernels for a reference of one spread.

    `heights` (heights,) chances of each of `HEIGHTS_DB`; `places` (points, shifts) chances of each
    point of `RELATIVE_DB` where a place's middle is shifted.
    """

    heights: Floats
    places: Floats


@cache
def model_for(spread_db: float) -> Model:
    """The model of a reference's spread, dB; each height keeps a chance, so that it has a log."""
    shared = np.sqrt(SHARED) * spread_db
    own = np.sqrt(1 - SHARED) * spread_db
    heights = np.maximum(np.exp(-0.5 * (HEIGHTS_DB / shared) ** 2), np.finfo(float).tiny)
    places = np.exp(-0.5 * ((RELATIVE_DB[:, None] - SHIFTS_DB) / own) ** 2)
    return Model(heights / heights.sum(), places / places.sum(axis=0))


@cache
def _loss_kernel() -> Floats:
    """Chances of each shift given height and depth class, (shifts, heights * classes)."""
    kernel = np.zeros((len(SHIFTS_DB), len(HEIGHTS_DB), len(DEPTHS_DB)))
    for h, height in enumerate(HEIGHTS_DB):
        for k, (low, high) in enumerate(DEPTHS_DB):
            depth = np.arange(low, high + 1)
            at = np.rint(height - depth - SHIFTS_DB[0]).astype(int)
            kernel[at, h, k] = 1 / len(depth)
    return kernel.reshape(len(SHIFTS_DB), -1)


def explained(likelihood: Floats, model: Model) -> tuple[Floats, Floats]:
    """How well each place is explained by health and by loss, given the field's height.

    Likelihoods (places, points). Returns (places, heights) and (places, heights, depth classes).
    """
    shifted = likelihood @ model.places
    loss = shifted @ _loss_kernel()
    health = shifted[:, -len(HEIGHTS_DB) :]
    return health, loss.reshape(len(likelihood), len(HEIGHTS_DB), len(DEPTHS_DB))
