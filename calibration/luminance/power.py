"""A power law with an offset and a black level, fitted with the meter's noise as weights.

L(u) = black + (peak - black) * max(0, (u - offset) / (1 - offset))^gamma, u = code / top code.
The offset may come out slightly negative: sRGB is such a curve (gamma 2.4, offset -0.055).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.luminance.curve import Curve
from calibration.luminance.noise import Noise
from calibration.nonlinear import NonlinearFit, fit_nonlinear
from calibration.readings import Channel
from protocols.errors import InputError
from protocols.field import Floats

START_GAMMAS = (2.2, 1.4, 3.2)
REWEIGHTINGS = 2
NAMES = ("black_cd_m2", "peak_cd_m2", "offset", "gamma")


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


def fit_power(channel: Channel, noise: Noise) -> Curve:
    """Fit the power law to a channel read with this noise.

    Raises InputError when no starting point leads to a fit.
    """
    fit = _first_fit(channel, noise)
    for _ in range(REWEIGHTINGS):
        standard = noise.standard(SHAPE.cd_m2(fit.parameters, channel.share))
        fit = refit_power(channel, fit.parameters, standard)
    return Curve(SHAPE, fit.parameters, fit.unit_covariance, len(NAMES), noise)


def refit_power(channel: Channel, start: Floats, standard: Floats) -> NonlinearFit:
    """One fit from `start` (4,) with known standard deviations (n,) of the readings.

    Light in cd/m2.
    """
    return fit_nonlinear(
        lambda p: SHAPE.cd_m2(p, channel.share),
        channel.cd_m2,
        start,
        standard,
        lambda p: SHAPE.slopes(p, channel.share),
    )


def _base(share: Floats, offset: float) -> Floats:
    return np.maximum(0.0, (share - offset) / (1 - offset))


def _raised(base: Floats, power: float) -> Floats:
    """Base to a power, 0 where the base is 0 whatever the power."""
    lit = base > 0
    return np.where(lit, np.where(lit, base, 1.0) ** power, 0.0)


def _first_fit(channel: Channel, noise: Noise) -> NonlinearFit:
    standard = noise.standard(channel.cd_m2)
    fits = []
    for gamma in START_GAMMAS:
        start = np.array([channel.cd_m2[0], channel.cd_m2[-1], 0.0, gamma])
        try:
            fits.append(refit_power(channel, start, standard))
        except InputError:
            continue
        if fits[-1].residual_sd < GOOD_SD:
            break
    if not fits:
        raise InputError(
            f"readings of {channel.name}",
            "readings no power law goes through",
            "luminance that rises like a power of the code",
            "Check the readings; measure again.",
        )
    return min(fits, key=lambda fit: fit.residual_sum)


GOOD_SD = 4.0
SHAPE = PowerShape()
