"""Whole fields that the answers leave possible, drawn jointly: where every interval comes from.

Before the answers, half of a place's chance is the reference population of that age, whose places
share a height, and half is spread evenly from the bottom of the scale to the reference mean: loss
of any depth. So a place's interval is wide where its answers say little, and places that were all
seen at once do not pretend that the field's height is known.
"""

from __future__ import annotations

import numpy as np
from scipy.special import logsumexp

from analysis.indices.likelihood import RELATIVE_DB, STEP_DB, Slips
from analysis.indices.model import HEIGHTS_DB, SHIFTS_DB, model_for
from analysis.posterior import BELOW_FLOOR_DB, TOP_DB
from protocols.field import Floats

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
    rng = np.random.default_rng(SEED)
    at = rng.choice(len(heights), size=draws, p=heights)
    return np.maximum(_drawn(rng, posterior, at), floor_db - means_db)


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


def _drawn(rng: np.random.Generator, posterior: Floats, at: np.ndarray) -> Floats:
    """A point of each place given each draw's height, spread evenly within its step."""
    heights, places, points = posterior.shape
    cumulative = posterior.cumsum(axis=-1)
    cumulative /= cumulative[..., -1:]
    row = np.arange(heights * places).reshape(heights, places)
    stacked = (cumulative + row[..., None]).ravel()
    u = rng.random((len(at), places))
    found = np.searchsorted(stacked, row[at] + u) - row[at] * points
    within = rng.random((len(at), places)) - 0.5
    return np.asarray(RELATIVE_DB[np.clip(found, 0, points - 1)] + STEP_DB * within)
