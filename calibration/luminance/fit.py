"""Curves and the meter's noise together: one meter reads every channel, so its noise is common."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import stats

from calibration.luminance.choose import Chosen, choose_curve, refitted
from calibration.luminance.curve import Curve
from calibration.luminance.noise import Noise, first_guess, noise_of
from calibration.luminance.power import fit_power
from calibration.readings import Channel
from protocols.field import Floats

ROUNDS = 3
SURE = 0.999
MOST_LEVERAGE = 0.9


def fitted_channels(channels: Sequence[Channel]) -> tuple[Chosen, ...]:
    """Choose and fit a model for each channel, with the noise that all residuals show together.

    Raises InputError where no curve fits.
    """
    noise = first_guess(max(float(np.max(channel.cd_m2)) for channel in channels))
    for _ in range(ROUNDS):
        noise = common_noise(channels, [fit_power(c, noise) for c in channels], noise)
    chosen = tuple(choose_curve(channel, noise) for channel in channels)
    for _ in range(ROUNDS - 1):
        noise = common_noise(channels, [c.curve for c in chosen], noise)
        chosen = tuple(refitted(c, noise) for c in chosen)
    return chosen


def common_noise(channels: Sequence[Channel], curves: Sequence[Curve], guess: Noise) -> Noise:
    """The meter's noise from the residuals of all channels.

    A reading that a curve leans on pulls the curve towards itself; its squared residual is divided
    by 1 less its leverage, so that the few dark readings do not make the floor look too low.
    """
    pairs = list(zip(channels, curves, strict=True))
    fitted = np.concatenate([curve.cd_m2(channel.share) for channel, curve in pairs])
    observed = np.concatenate([channel.cd_m2 for channel in channels])
    leverage = np.concatenate([_leverage(channel, curve) for channel, curve in pairs])
    return noise_of((observed - fitted) ** 2 / (1 - leverage), fitted, guess)


def _leverage(channel: Channel, curve: Curve) -> Floats:
    """Share of its own fitted value that each reading decides, shape (n,)."""
    spread = curve.noise.standard(curve.cd_m2(channel.share))
    decided = (curve.standard_cd_m2(channel.share) / spread) ** 2
    return np.asarray(np.minimum(decided, MOST_LEVERAGE))


def freedom(channels: Sequence[Channel], curves: Sequence[Curve]) -> int:
    """Degrees of freedom of the noise: all readings less all parameters."""
    return sum(len(c.share) for c in channels) - sum(curve.free for curve in curves)


def lack_of_fit(channel: Channel, curve: Curve) -> float:
    """Factor for the uncertainty of a channel whose curve misses the readings, else 1.

    The root of chi-square over its degrees of freedom (Birge 1932, Phys Rev 40:207), once
    chi-square is surely too large for the meter's noise.
    """
    fitted = curve.cd_m2(channel.share)
    off = (channel.cd_m2 - fitted) / curve.noise.standard(fitted)
    degrees = len(off) - curve.free
    found = float(off @ off)
    if found <= stats.chi2.ppf(SURE, degrees):
        return 1.0
    return float(np.sqrt(found / degrees))
