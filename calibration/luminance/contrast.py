"""How truly a nominal contrast is delivered, given how well the light was measured.

The window draws codes from the fitted curves; the true curves differ from them. For small
differences the delivered contrast is nominal times 1 + a linear function of the differences at
four places of each channel's curve: the two extremes of the grating, mean grey, and black.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.luminance.light import MeasuredLight
from calibration.transfer import CODE_STEPS, CODES, codes_of_half
from protocols.field import Floats


def mean_codes(light: MeasuredLight) -> tuple[int, ...]:
    """Mean grey: per channel the highest code of at most half the maximum light.

    Raises InputError where black itself is above half.
    """
    return codes_of_half(light.relative)


def contrast_standard(light: MeasuredLight, contrast: float) -> float:
    """Relative standard uncertainty of a grey grating's delivered contrast."""
    codes = mean_codes(light)
    means = _at(light.own_cd_m2, codes)
    gradient = _swing_gradient(light, codes, contrast) / (2 * contrast)
    gradient = gradient - light.grey_gradient(codes)
    return light.standard(gradient / np.sum(means))


def channel_contrast_standard(light: MeasuredLight, channel: int, contrast: float) -> float:
    """The same for a grating in one channel alone, over that channel's own light."""
    codes = mean_codes(light)
    mean = light.own_cd_m2[channel, codes[channel]]
    own = light.black_gradient() * light.black_shares[channel]
    own[channel, 0] -= 1
    own[channel, codes[channel]] += 1
    swing = np.zeros_like(own)
    swing[channel] = _swing_gradient(light, codes, contrast)[channel] / (2 * contrast)
    return light.standard((swing - own) / mean)


def _swing_gradient(light: MeasuredLight, codes: Sequence[int], contrast: float) -> Floats:
    """Gradient of the brightest less the darkest light of the grating, shape (k, 256)."""
    gradient = np.zeros((len(codes), CODES))
    for channel, (table, code) in enumerate(zip(light.relative, codes, strict=True)):
        for sign in (1.0, -1.0):
            wanted = table[code] * (1 + sign * contrast)
            drawn = float(np.interp(wanted, table, CODE_STEPS))
            gradient[channel] += sign * _between(drawn)
    return gradient


def _between(code: float) -> Floats:
    """Weights of the two whole codes that dithering mixes, shape (256,)."""
    return np.asarray(np.maximum(0.0, 1 - np.abs(CODE_STEPS - code)))


def _at(table: Floats, codes: Sequence[int]) -> Floats:
    return np.array([row[code] for row, code in zip(table, codes, strict=True)])
