"""The smooth part of the field under every hypothesis, matched to what places were heard to say.

Expectation propagation: the likelihood of one place is stood in for by a Gaussian factor (its
precision and its pull, the precision times mean). Taking the factor out of the current marginal
leaves the cavity; cavity times true likelihood has a mean and variance, found on the grid; the
factor becomes what gives the marginal these. A hypothesis is reweighed by how well it foresaw the
answer. Shapes: (exams, hypotheses, places).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from protocols.field import Floats
from protocols.procedures.interface import Ints
from protocols.procedures.joint.scale import GRID_DB

LEAST_VARIANCE = 0.05
LEAST_PRECISION = 1e-4
_SQUARES = GRID_DB**2


@dataclass(frozen=True)
class Smooth:
    """mean (exams, hypotheses, places) and covariance (..., places) of the smooth part; precision

    and pull of each place's factor (as mean); log_weight (exams, hypotheses), up to a constant.
    """

    mean: Floats
    covariance: Floats
    precision: Floats
    pull: Floats
    log_weight: Floats


def matched(
    smooth: Smooth, place: Ints, before: Floats, after: Floats
) -> Smooth:
    """The smooth part once the likelihood of `place` (exams,) is `after` and no longer `before`.

    Both have shape (exams, hypotheses, grid). Both are chances.
    """
    row = np.arange(len(place))
    cavity = _cavity(smooth, row, place)
    bell = _bell(*cavity)
    tilted = bell * after
    mass = tilted.sum(axis=-1)
    precision, pull = _factor(tilted, mass, *cavity)
    log_weight = smooth.log_weight + np.log(mass) - np.log((bell * before).sum(axis=-1))
    log_weight -= log_weight.max(axis=-1, keepdims=True)
    moved = _with_factor(smooth, row, place, precision, pull)
    return replace(moved, log_weight=log_weight)


def _cavity(smooth: Smooth, row: Ints, place: Ints) -> tuple[Floats, Floats]:
    """Mean and precision of the place without its factor, each (exams, hypotheses)."""
    variance = smooth.covariance[row, :, place, place]
    precision = np.maximum(1 / variance - smooth.precision[row, :, place], LEAST_PRECISION)
    pull = smooth.mean[row, :, place] / variance - smooth.pull[row, :, place]
    return pull / precision, precision


def _bell(mean: Floats, precision: Floats) -> Floats:
    away = GRID_DB - mean[..., None]
    exponent = -0.5 * precision[..., None] * away * away
    return np.asarray(np.exp(exponent - exponent.max(axis=-1, keepdims=True)))


def _factor(
    tilted: Floats, mass: Floats, mean: Floats, precision: Floats
) -> tuple[Floats, Floats]:
    """Precision and pull of the factor that gives the tilted mean and variance."""
    new_mean = (tilted * GRID_DB).sum(axis=-1) / mass
    square = (tilted * _SQUARES).sum(axis=-1) / mass
    variance = np.maximum(square - new_mean**2, LEAST_VARIANCE)
    factor = np.maximum(1 / variance - precision, 0.0)
    return factor, new_mean * (precision + factor) - mean * precision


def _with_factor(
    smooth: Smooth, row: Ints, place: Ints, precision: Floats, pull: Floats
) -> Smooth:
    """Exchange one place's factor: a rank-one change of each covariance."""
    more = precision - smooth.precision[row, :, place]
    pulled = pull - smooth.pull[row, :, place]
    column = smooth.covariance[row, :, place, :]
    variance = smooth.covariance[row, :, place, place]
    share = 1 / (1 + more * variance)
    step = (pulled - more * smooth.mean[row, :, place]) * share
    precisions, pulls = smooth.precision.copy(), smooth.pull.copy()
    precisions[row, :, place], pulls[row, :, place] = precision, pull
    less = (column * (more * share)[..., None])[..., :, None] * column[..., None, :]
    return Smooth(
        smooth.mean + column * step[..., None],
        smooth.covariance - less,
        precisions,
        pulls,
        smooth.log_weight,
    )
