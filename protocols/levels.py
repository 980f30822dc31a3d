"""Contrast and its logarithmic scale.

Contrast C is the Michelson contrast of the grating, 0..1. Sensitivity is 20*log10(1/C) dB
("contrast dB"): 0 dB is full contrast, 20 dB is 10 %. It is not the attenuation dB of
luminance-increment perimetry.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from protocols.errors import InputError
from protocols.field import Floats


def contrast_from_db(level_db: ArrayLike) -> Floats:
    """Contrast at a level in dB, any shape; raises InputError below 0 dB (more than full contrast).

    >>> float(contrast_from_db(20.0))
    0.1
    """
    level = np.asarray(level_db, float)
    if not np.all(level >= 0):
        raise InputError(
            "level",
            float(np.min(level)),
            "0 dB (full contrast) and up",
            "Ask for full contrast or less.",
        )
    return np.asarray(10.0 ** (-level / 20))


def db_from_contrast(contrast: ArrayLike) -> Floats:
    """Level in dB of a contrast above 0 and up to 1, any shape; raises InputError outside.

    >>> float(db_from_contrast(0.1))
    20.0
    """
    value = np.asarray(contrast, float)
    outside = value[~((value > 0) & (value <= 1))]
    if outside.size:
        raise InputError(
            "contrast",
            float(outside[0]),
            "above 0 and up to 1",
            "A blank has no level in dB; leave it out.",
        )
    return np.asarray(-20 * np.log10(value)) + 0.0
