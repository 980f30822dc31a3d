"""Each place's sensitivity as the mixture sees it: probabilities on the grid.

Single precision: thousands of exponentials an answer, and nothing is summed up over answers.
"""

from __future__ import annotations

import numpy as np

from protocols.field import Floats
from protocols.procedures.joint.answers import Answers
from protocols.procedures.joint.matching import LEAST_PRECISION, Smooth
from protocols.procedures.joint.scale import (
    DEEP_LOSS,
    EXTRA_LOSS,
    GRID_DB,
    HELD_DB,
    STEP_DB,
    Singles,
)

_GRID = GRID_DB.astype(np.float32)
_EXTRA, _DEEP = EXTRA_LOSS.astype(np.float32), DEEP_LOSS.astype(np.float32)
WARY_CHANCE = 0.05
"""Chance of a deep loss at every place that asking goes by: a lone loss is looked for harder than

it is believed in, so that neighbours cannot talk it away."""
_MOMENTS = np.stack([HELD_DB, HELD_DB**2], axis=1)


def marginals(smooth: Smooth, answers: Answers, extra: Floats) -> tuple[Floats, Floats]:
    """Probabilities of each place, believed and wary, each (exams, places, grid).

    `extra` (hypotheses, places) is the chance of an extra loss. The wary ones hold every place
    suspect of a deep loss of its own, with chance `WARY_CHANCE`.
    """
    bell = _cavity_bells(smooth)
    plain, beyond = answers.plain.astype(np.float32), answers.extra.astype(np.float32)
    masses = bell @ np.stack([plain, beyond], axis=-1)
    chance = extra.T.astype(np.float32)
    evidence = masses[..., 0] * (1 - chance) + masses[..., 1] * chance
    scaled = weights(smooth)[:, None, :].astype(np.float32) / evidence
    shares = np.stack([scaled * (1 - chance), scaled * chance], axis=2)
    without, lost = np.moveaxis(shares @ bell, 2, 0)
    believed = (without + lost @ _EXTRA) * plain
    deep = ((without + lost) @ _DEEP) * plain
    wary = (1 - WARY_CHANCE) * believed + WARY_CHANCE * deep
    return _normalised(believed), _normalised(wary)


def _normalised(mass: Singles) -> Floats:
    double = mass.astype(float)
    return np.asarray(double / double.sum(axis=-1, keepdims=True))


def weights(smooth: Smooth) -> Floats:
    """Probability of each hypothesis, (exams, hypotheses)."""
    weight = np.exp(smooth.log_weight)
    return np.asarray(weight / weight.sum(axis=-1, keepdims=True))


def moments(mass: Floats) -> tuple[Floats, Floats]:
    """Mean and variance of each place, (exams, places); all below full contrast counts as 0 dB."""
    found = mass @ _MOMENTS
    mean = found[..., 0]
    return mean, np.maximum(found[..., 1] - mean**2, 0.0)


def interval_db(mass: Floats, share: float) -> tuple[Floats, Floats]:
    """Central interval of each place; open downwards, to the foot of the grid, if it passes 0 dB.

    What lies below full contrast cannot be told apart, so an interval that reaches there ends
    nowhere above the foot.
    """
    tail = (1 - share) / 2
    low, high = quantile_db(mass, tail), quantile_db(mass, 1 - tail)
    return np.where(low < 0, GRID_DB[0] - STEP_DB / 2, low), high


def quantile_db(mass: Floats, share: float) -> Floats:
    """Quantile of each place, each grid value standing for the cell about it."""
    below = np.cumsum(mass, axis=-1)
    cell = np.minimum((below < share).sum(axis=-1), len(GRID_DB) - 1)
    through = np.take_along_axis(below, cell[..., None], -1)[..., 0]
    inside = np.take_along_axis(mass, cell[..., None], -1)[..., 0]
    part = (share - (through - inside)) / np.maximum(inside, 1e-12)
    return np.asarray(GRID_DB[cell] + (np.clip(part, 0.0, 1.0) - 0.5) * STEP_DB)


def _cavity_bells(smooth: Smooth) -> Singles:
    """Each place without its own factor, (exams, places, hypotheses, grid), peaks at most 1."""
    variance = np.diagonal(smooth.covariance, axis1=2, axis2=3)
    precision = np.maximum(1 / variance - smooth.precision, LEAST_PRECISION)
    mean = (smooth.mean / variance - smooth.pull) / precision
    mean = np.clip(mean, GRID_DB[0], GRID_DB[-1])
    root = np.ascontiguousarray(np.sqrt(0.5 * precision).transpose(0, 2, 1), np.float32)
    centre = np.ascontiguousarray(mean.transpose(0, 2, 1), np.float32)
    away = root[..., None] * _GRID - (root * centre)[..., None]
    np.multiply(away, away, out=away)
    np.negative(away, out=away)
    return np.exp(away, out=away)
