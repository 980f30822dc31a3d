"""How an invented person answers: a seeing curve that widens with loss, lapses, false presses.

Henson 2000, IOVS 41:417, found ln SD = -0.081 s + 3.27 for the seeing curve of light increments,
s in luminance dB; later work caps SD at 6 dB. Carried over to contrast dB by assumption: 25.5
contrast dB stands where 30 luminance dB stands in that law, a dB of loss widens the curve by the
same factor on both scales, and the whole law is scaled to 1.5 dB there (so the cap is 3.9 dB).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from protocols.field import Floats

HENSON_PER_DB = -0.081
HENSON_AT_ZERO = 3.27
CAP_DB = 6.0
HEALTHY_LUMINANCE_DB = 30.0
HEALTHY_CONTRAST_DB = 25.5
HEALTHY_SPREAD_DB = 1.5


def henson_spread_db(sensitivity_luminance_db: ArrayLike) -> Floats:
    """SD of the seeing curve of light increments, luminance dB; any shape.

    >>> round(float(henson_spread_db(30.0)), 3), float(henson_spread_db(5.0))
    (2.316, 6.0)
    """
    s = np.asarray(sensitivity_luminance_db, float)
    return np.minimum(np.exp(HENSON_PER_DB * s + HENSON_AT_ZERO), CAP_DB)


def spread_db(sensitivity_db: ArrayLike) -> Floats:
    """SD of the seeing curve at a sensitivity in contrast dB, by the assumed transfer; any shape.

    >>> float(spread_db(25.5))
    1.5
    """
    shift = HEALTHY_LUMINANCE_DB - HEALTHY_CONTRAST_DB
    scale = HEALTHY_SPREAD_DB / henson_spread_db(HEALTHY_LUMINANCE_DB)
    return np.asarray(scale * henson_spread_db(np.asarray(sensitivity_db, float) + shift))


def seen_probability(
    level_db: ArrayLike,
    sensitivity_db: ArrayLike,
    spread_factor: ArrayLike,
    lapse_rate: ArrayLike,
    false_press_rate: ArrayLike,
) -> Floats:
    """Chance of a press: noticed and not lapsed, or a false press; arguments broadcast."""
    sensitivity = np.asarray(sensitivity_db, float)
    spread = spread_db(sensitivity) * np.asarray(spread_factor, float)
    noticed = (1 - np.asarray(lapse_rate)) * ndtr((sensitivity - level_db) / spread)
    false = np.asarray(false_press_rate, float)
    return np.asarray(false + (1 - false) * noticed)
