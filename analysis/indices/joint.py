"""Whole fields that the answers leave possible, drawn jointly: where every interval comes from.

Before the answers, half of a place's chance is the reference population of that age, whose places
share a height, and half is spread evenly from the bottom of the scale to the reference mean: loss
of any depth. So a place's interval is wide where its answers say little, and places that were all
seen at once do not pretend that the field's height is known.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.special import logsumexp

from analysis.indices.likelihood import RELATIVE_DB, STEP_DB, Slips
from analysis.indices.model import HEIGHTS_DB, SHIFTS_DB, model_for
from analysis.posterior import BELOW_FLOOR_DB, TOP_DB
from protocols.field import Floats
from protocols.procedures.interface import Ints

BEARING = Slips(lapse=0.06, widens=True)
"""Slips that the intervals bear: some more lapses than a careful participant has, and a seeing

curve that widens with loss.
"""
DRAWS = 1000
SEED = 20
"""Draws are the same for the same answers."""


def field_draws(
    likelihood: Floats, means_db: Floats, spread_db: float, floor_db: float, draws: int = DRAWS
) -> Floats:
    """Deviations from the reference mean, (draws, places), dB.

    Likelihoods (places, points). What lies below the display's full contrast `floor_db` counts as
    full contrast: how far below, no answer can tell.
    """
    posterior, heights = _posteriors(likelihood, means_db, spread_db, floor_db)
    dice = _dice(draws, len(means_db))
    upto = heights.cumsum()
    at = (upto / upto[-1]).searchsorted(dice.height, side="right")
    return np.maximum(_drawn(dice, posterior, at), floor_db - means_db)


class _Dice(NamedTuple):
    """Evenly spread draws: of height (draws,), of a point and within its step (draws, places)."""

    height: Floats
    point: Floats
    within: Floats


@lru_cache(maxsize=8)
def _dice(draws: int, places: int) -> _Dice:
    """The same for every eye of so many places."""
    rng = np.random.default_rng(SEED)
    return _Dice(rng.random(draws), *(rng.random((draws, places)) for _ in range(2)))


def _posteriors(
    likelihood: Floats, means_db: Floats, spread_db: float, floor_db: float
) -> tuple[Floats, Floats]:
    """Of each place given the height, (heights, places, points), and of the height, (heights,)."""
    model = model_for(spread_db)
    sensitivity = means_db[:, None] + RELATIVE_DB
    possible = (sensitivity >= floor_db - BELOW_FLOOR_DB) & (sensitivity <= TOP_DB)
    lost = possible & (RELATIVE_DB <= 0)
    even = lost / lost.sum(axis=1, keepdims=True)
    shifted = model.places[:, len(SHIFTS_DB) - len(HEIGHTS_DB) :].T
    prior = 0.5 * shifted[:, None, :] * possible + 0.5 * even
    joint = prior * likelihood
    weight = joint.sum(axis=-1, keepdims=True)
    log_heights = np.log(model.heights) + np.log(weight[..., 0]).sum(axis=1)
    return joint / weight, np.exp(log_heights - logsumexp(log_heights))


def _drawn(dice: _Dice, posterior: Floats, at: Ints) -> Floats:
    """A point of each place given each draw's height, spread evenly within its step."""
    heights, places, points = posterior.shape
    cumulative = posterior.cumsum(axis=-1)
    cumulative /= cumulative[..., -1:]
    row = np.arange(heights * places).reshape(heights, places)
    stacked = (cumulative + row[..., None]).ravel()
    found = np.searchsorted(stacked, row[at] + dice.point) - row[at] * points
    within = dice.within - 0.5
    return np.asarray(RELATIVE_DB[np.clip(found, 0, points - 1)] + STEP_DB * within)
