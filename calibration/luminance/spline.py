"""A monotone spline, for displays that no power law describes.

L(u) = black + y(x)^gamma with x the code share past the power law's offset and y a quadratic
spline whose coefficients never fall, so that y never falls either (I-splines; Ramsay 1988, Stat
Sci 3:425). Gamma and offset are those of the power-law fit: where that law is right, y is a
straight line, so that few pieces do. Black and the coefficients' steps are found by non-negative
least squares in Gauss-Newton rounds, weighted by the meter's noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline
from scipy.optimize import nnls

from calibration.luminance.curve import Curve
from calibration.luminance.noise import Noise
from calibration.nonlinear import unscaled
from calibration.readings import Channel
from protocols.errors import InputError
from protocols.field import Floats

DEGREE = 2
ROUNDS = 5
REWEIGHTINGS = 2
DARKEST = 1e-6
"""Slopes by smaller roots are taken here: where gamma is below 1 they have no bound.

As a share of the root at the top code.
"""


@dataclass(frozen=True)
class SplineKind:
    """How many pieces, and how much of the power law's offset is believed."""

    pieces: int
    most_offset: float


@dataclass(frozen=True)
class SplineShape:
    """A monotone spline of `pieces` equal pieces; parameters are black and the spline's steps.

    `gamma` and `offset` are fixed; `start` is y at code 0, not 0 where the offset is negative.
    """

    pieces: int
    gamma: float
    offset: float
    start: float
    name: str = "spline"

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """Black in cd/m2, then how much each coefficient lies above the one before."""
        return ("black_cd_m2", *(f"step_{i}" for i in range(1, self.pieces + DEGREE)))

    def cd_m2(self, parameters: Floats, share: Floats) -> Floats:
        """Luminance at shares (n,)."""
        return np.asarray(parameters[0] + self.root(parameters, share) ** self.gamma)

    def slopes(self, parameters: Floats, share: Floats) -> Floats:
        """Derivatives by black and each step, shape (n, pieces + 2)."""
        top = self.start + float(np.sum(parameters[1:]))
        root = np.maximum(self.root(parameters, share), DARKEST * top)
        by_root = self.gamma * root ** (self.gamma - 1)
        steps = by_root[:, None] * self.basis(share)
        return np.concatenate([np.ones((len(share), 1)), steps], axis=1)

    def root(self, parameters: Floats, share: Floats) -> Floats:
        """The spline y at shares (n,)."""
        return np.asarray(self.start + self.basis(share) @ parameters[1:])

    def basis(self, share: Floats) -> Floats:
        """I-spline basis at shares (n,), shape (n, pieces + 1); columns rise from 0 to 1."""
        first = max(0.0, self.offset)
        past = np.maximum(0.0, (share - first) / (1 - first))
        inner = np.linspace(0, 1, self.pieces + 1)
        knots = np.concatenate([np.zeros(DEGREE), inner, np.ones(DEGREE)])
        splines = BSpline.design_matrix(past, knots, DEGREE).toarray()
        return np.asarray(np.cumsum(splines[:, ::-1], axis=1)[:, ::-1][:, 1:])


def spline_shape(power: Curve, kind: SplineKind) -> SplineShape:
    """The spline of a kind that stands on a fitted power law."""
    black, peak, offset, gamma = (float(v) for v in power.parameters)
    lift = max(0.0, -offset) / (1 - offset)
    start = float((peak - black) ** (1 / gamma)) * lift
    return SplineShape(kind.pieces, gamma, min(offset, kind.most_offset), start)


def fit_spline(channel: Channel, power: Curve, kind: SplineKind, noise: Noise) -> Curve:
    """Fit a monotone spline, beginning at a power-law curve.

    Raises InputError where there are not more readings than steps.
    """
    shape = spline_shape(power, kind)
    fitted = power.cd_m2(channel.share)
    found = np.zeros(0)
    for _ in range(REWEIGHTINGS):
        found = spline_steps(channel, shape, power, noise.standard(fitted))
        fitted = shape.cd_m2(found, channel.share)
    return _curve(channel, shape, found, noise)


def spline_steps(
    channel: Channel, shape: SplineShape, power: Curve, standard: Floats
) -> Floats:
    """Black and steps (p,) for known standard deviations (n,), beginning at the power law.

    In cd/m2 and roots of it.
    """
    basis, black = shape.basis(channel.share), float(power.parameters[0])
    darkest = DARKEST * float(power.parameters[1] - black) ** (1 / shape.gamma)
    light = np.maximum(power.cd_m2(channel.share) - black, 0.0)
    root = np.maximum(light ** (1 / shape.gamma), darkest)
    found = np.zeros(basis.shape[1] + 1)
    for _ in range(ROUNDS):
        slope = shape.gamma * root ** (shape.gamma - 1)
        wanted = channel.cd_m2 - root**shape.gamma + slope * (root - shape.start)
        found = _signed_first(basis * slope[:, None], wanted, standard)
        root = np.maximum(shape.start + basis @ found[1:], darkest)
    return found


def _signed_first(steps: Floats, wanted: Floats, standard: Floats) -> Floats:
    """Least squares with steps never below zero and a constant first that may be."""
    ones = np.ones((len(wanted), 1))
    design = np.concatenate([ones, -ones, steps], axis=1) / standard[:, None]
    found, _ = nnls(design, wanted / standard)
    return np.concatenate([[found[0] - found[1]], found[2:]])


def _curve(channel: Channel, shape: SplineShape, found: Floats, noise: Noise) -> Curve:
    decided = np.concatenate([[True], found[1:] > 0])
    free = int(np.sum(decided))
    if len(channel.share) <= free:
        raise InputError("readings", len(channel.share), f"more than {free}", "Read more.")
    if free == 1:
        raise InputError("readings", "no rise", "light that rises", "Check the readings.")
    standard = noise.standard(shape.cd_m2(found, channel.share))
    weighted = shape.slopes(found, channel.share) / standard[:, None]
    covariance = np.zeros((len(found), len(found)))
    covariance[np.ix_(decided, decided)] = unscaled(weighted[:, decided])
    return Curve(shape, found, covariance, free, noise)
