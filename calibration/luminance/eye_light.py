"""A display's light from what the certificate says of power curves matched by eye."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.certificate import FitLine
from calibration.luminance.choose import KINDS, Chosen
from calibration.luminance.curve import Curve
from calibration.luminance.light import MeasuredLight, light_of_channels
from calibration.luminance.noise import Noise
from calibration.luminance.power import NAMES, SHAPE
from calibration.readings import Readings

BY_EYE = "by eye"
"""How the method of every gamma part begins that was matched by eye."""

FREE = 1


def eye_light(fits: Sequence[FitLine], readings: Readings) -> MeasuredLight:
    """The light of power curves with these parameters and standard errors, taken as independent.

    `readings` are the matched points, for the pictures; nothing is fitted to them again.
    """
    chosen = tuple(_chosen(fit, readings) for fit in fits)
    return light_of_channels(chosen, tuple(one.curve.covariance for one in chosen))


def _chosen(fit: FitLine, readings: Readings) -> Chosen:
    parameters = np.array([fit.parameters[name] for name in NAMES])
    errors = np.array([fit.standard_errors[name] for name in NAMES])
    noise = Noise(float(errors[-1] / parameters[-1]), 0.0)
    curve = Curve(SHAPE, parameters, np.diag(errors**2), FREE, noise)
    return Chosen(readings.channel(fit.channel), curve, curve, KINDS[0], {})
