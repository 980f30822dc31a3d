"""A power law with an offset and a black level, fitted with the meter's noise as weights.

L(u) = black + (peak - black) * max(0, (u - offset) / (1 - offset))^gamma, u = code / top code.
The offset may come out slightly negative: sRGB is such a curve (gamma 2.4, offset -0.055). Where
readings do not tell the offset, or the gamma, it is held: of a straight line they cannot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from calibration.luminance.curve import Curve
from calibration.luminance.noise import Noise
from calibration.nonlinear import fit_nonlinear
from calibration.readings import Channel
from protocols.errors import InputError
from protocols.field import Floats

START_GAMMAS = (2.2, 1.4, 3.2)
REWEIGHTINGS = 2
MOST_EVALUATIONS = 500
NAMES = ("black_cd_m2", "peak_cd_m2", "offset", "gamma")
OFFSETS = (-1.0, 0.95)
GAMMAS = (0.4, 20.0)
"""Beyond these the law is an exponential, a logarithm or a step: its parameters run away."""

HELD: tuple[dict[int, float], ...] = ({}, {2: 0.0}, {2: 0.0, 3: 1.0})
"""What is held, by parameter, until the readings tell the rest: nothing, the offset, gamma too."""


@dataclass(frozen=True)
class PowerShape:
    """The power law; parameters black and peak in cd/m2, offset as a share, gamma."""

    name: str = "power"
    parameter_names: tuple[str, ...] = NAMES

    def cd_m2(self, parameters: Floats, share: Floats) -> Floats:
        """Luminance at shares (n,)."""
        black, peak, offset, gamma = parameters
        return np.asarray(black + (peak - black) * _raised(_base(share, offset), gamma))

    def slopes(self, parameters: Floats, share: Floats) -> Floats:
        """Derivatives by black, peak, offset and gamma, shape (n, 4)."""
        black, peak, offset, gamma = parameters
        base = _base(share, offset)
        lit = base > 0
        safe = np.where(lit, base, 1.0)
        rise = _raised(base, gamma)
        by_base = gamma * _raised(base, gamma - 1) * (peak - black)
        by_offset = by_base * (share - 1) / (1 - offset) ** 2
        return np.stack([1 - rise, rise, by_offset, (peak - black) * rise * np.log(safe)], axis=1)


@dataclass(frozen=True)
class PowerFit:
    """Parameters (4,) and covariance (4, 4), zero where one was held; how many were free.

    `residual_sd` is in standard deviations of a reading.
    """

    parameters: Floats
    covariance: Floats
    free: int
    residual_sd: float


def fit_power(channel: Channel, noise: Noise) -> Curve:
    """Fit the power law to a channel read with this noise.

    Raises InputError when not even a straight line goes through the readings.
    """
    fit = _first_fit(channel, noise)
    for _ in range(REWEIGHTINGS):
        standard = noise.standard(SHAPE.cd_m2(fit.parameters, channel.share))
        fit = refit_power(channel, fit.parameters, standard)
    return Curve(SHAPE, fit.parameters, fit.covariance, fit.free, noise)


def refit_power(channel: Channel, start: Floats, standard: Floats) -> PowerFit:
    """One fit from `start` (4,) with known standard deviations (n,) of the readings.

    Light in cd/m2. Raises InputError when not even a straight line goes through the readings.
    """
    return _best_fit(channel, [start], standard)


def _base(share: Floats, offset: float) -> Floats:
    return np.maximum(0.0, (share - offset) / (1 - offset))


def _raised(base: Floats, power: float) -> Floats:
    """Base to a power, 0 where the base is 0 whatever the power."""
    lit = base > 0
    return np.where(lit, np.where(lit, base, 1.0) ** power, 0.0)


def _first_fit(channel: Channel, noise: Noise) -> PowerFit:
    ends = channel.cd_m2[0], channel.cd_m2[-1]
    starts = [np.array([*ends, 0.0, gamma]) for gamma in START_GAMMAS]
    return _best_fit(channel, starts, noise.standard(channel.cd_m2))


def _best_fit(channel: Channel, starts: Sequence[Floats], standard: Floats) -> PowerFit:
    """The best of the fits from these starts, with as many parameters free as can be told."""
    for held in HELD:
        fits = []
        for start in starts:
            fit = _held_fit(channel, start, standard, held)
            if fit is None:
                continue
            fits.append(fit)
            if fit.residual_sd < GOOD_SD:
                break
        if fits:
            return min(fits, key=lambda fit: fit.residual_sd)
    raise InputError(
        f"readings of {channel.name}",
        "readings no power law goes through",
        "luminance that rises like a power of the code",
        "Check the readings; measure again.",
    )


def _held_fit(
    channel: Channel, start: Floats, standard: Floats, held: Mapping[int, float]
) -> PowerFit | None:
    """A fit with some parameters held, by number; None where the rest cannot be told."""
    free = [index for index in range(len(NAMES)) if index not in held]

    def whole(some: Floats) -> Floats:
        parameters = start.copy()
        parameters[list(held)] = list(held.values())
        parameters[free] = some
        return parameters

    try:
        fit = fit_nonlinear(
            lambda some: SHAPE.cd_m2(whole(some), channel.share),
            channel.cd_m2,
            start[free],
            standard,
            lambda some: SHAPE.slopes(whole(some), channel.share)[:, free],
            MOST_EVALUATIONS,
        )
    except InputError:
        return None
    parameters = whole(fit.parameters)
    if not _rises(parameters):
        return None
    covariance = np.zeros((len(NAMES), len(NAMES)))
    covariance[np.ix_(free, free)] = fit.unit_covariance
    return PowerFit(parameters, covariance, len(free), fit.residual_sd)


def _rises(parameters: Floats) -> bool:
    black, peak, offset, gamma = parameters
    (low, high), (least, most) = OFFSETS, GAMMAS
    return bool(peak > black and low <= offset <= high and least <= gamma <= most)


GOOD_SD = 4.0
SHAPE = PowerShape()
