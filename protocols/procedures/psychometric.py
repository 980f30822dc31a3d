"""The seeing curve: chance of a press as a function of level and sensitivity, both contrast dB.

p = false + (1 - false - lapse) * F, with F a cumulative Gaussian of (sensitivity - level) / spread
or a Weibull curve of contrast. A more sensitive place sees fainter levels, so p falls with level.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from protocols.field import Floats

Shape = Literal["gaussian", "weibull"]


def seeing_probability(
    level_db: ArrayLike,
    sensitivity_db: ArrayLike,
    slope: ArrayLike,
    false_press_rate: ArrayLike,
    lapse_rate: ArrayLike,
    shape: Shape = "gaussian",
) -> Floats:
    """Chance of a press; arguments broadcast.

    `slope` is the spread (SD) in dB of the Gaussian, or the exponent of the Weibull curve
    (Watson 2017, J Vision 17(3):10, eq. 2), whose sensitivity is the level seen at 63 %.

    >>> round(float(seeing_probability(20.0, 20.0, 1.5, 0.03, 0.03)), 6)
    0.5
    """
    above_db = np.asarray(sensitivity_db, float) - np.asarray(level_db, float)
    false, lapse = np.asarray(false_press_rate, float), np.asarray(lapse_rate, float)
    if shape == "gaussian":
        share = ndtr(above_db / np.asarray(slope, float))
    else:
        share = -np.expm1(-(10.0 ** (above_db * np.asarray(slope, float) / 20)))
    return np.asarray(false + (1 - false - lapse) * share)


def information(
    above_db: ArrayLike, spread_db: float, false_press_rate: float, lapse_rate: float
) -> Floats:
    """Fisher information on sensitivity, 1/dB^2, of one answer at (sensitivity - level) = above_db.

    For the cumulative Gaussian. The best place to ask without errors is the threshold itself, and
    n answers there leave a variance of at least (pi/2) * spread^2 / n (Taylor 1971).

    >>> round(1 / float(information(0.0, 1.0, 0.0, 0.0)), 4)
    1.5708
    """
    z = np.asarray(above_db, float) / spread_db
    p = false_press_rate + (1 - false_press_rate - lapse_rate) * ndtr(z)
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi) / spread_db
    return np.asarray(((1 - false_press_rate - lapse_rate) * density) ** 2 / (p * (1 - p)))


def bernoulli_entropy(p: Floats) -> Floats:
    """Entropy in nats of a yes/no answer with chance p of yes, 0 < p < 1. Any shape."""
    return np.asarray(-(p * np.log(p) + (1 - p) * np.log1p(-p)))
