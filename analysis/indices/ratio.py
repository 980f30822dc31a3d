"""The statistic of the whole-field test: an average likelihood ratio of loss against none.

For each region and depth class the answers' likelihood under loss there is set against that under
health, the field's unknown height averaged out in both; the ratios are averaged by weight. Under
the model of health its mean is 1, so that a ratio of 1/a or more has a chance of a at most
(Markov's inequality): a bound that needs no simulation. Places without answers say nothing.
"""

from __future__ import annotations

import numpy as np
from scipy.special import logsumexp

from analysis.indices.model import DEPTHS_DB, explained, model_for
from analysis.indices.regions import regions
from protocols.field import Floats, Place

EXAMS = 100
"""Fields held in memory at a time."""


def log_ratios(
    likelihood: Floats, places: tuple[Place, ...], spread_db: float
) -> Floats:
    """Natural logarithm of the ratio of each field, (fields,).

    Likelihoods (fields, places, points) in the order of a right eye's places.
    """
    parts = [
        _of_few(likelihood[first : first + EXAMS], places, spread_db)
        for first in range(0, len(likelihood), EXAMS)
    ]
    return np.concatenate(parts)


def _of_few(likelihood: Floats, places: tuple[Place, ...], spread_db: float) -> Floats:
    fields, count, points = likelihood.shape
    model = model_for(spread_db)
    health, loss = explained(likelihood.reshape(-1, points), model)
    log_health = np.log(health).reshape(fields, count, -1)
    gain = np.log(loss).reshape(fields, count, -1, len(DEPTHS_DB)) - log_health[..., None]
    height = log_health.sum(axis=1) + np.log(model.heights)
    height -= logsumexp(height, axis=1, keepdims=True)
    which, weights = regions(places)
    flat = gain.reshape(fields, count, -1)
    by_region = (which.astype(float) @ flat).reshape(fields, len(which), *gain.shape[2:])
    odds = by_region + height[:, None, :, None]
    odds += np.log(weights / len(DEPTHS_DB))[None, :, None, None]
    return np.asarray(logsumexp(odds.reshape(fields, -1), axis=1))
