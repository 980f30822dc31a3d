"""The colour of a loss: sand to plum, as even to the eye as it is in dB.

The path runs through OKLab (B. Ottosson 2020), where equal distances look about equal, from pale
sand over clay to dark plum, and is walked at constant speed. Lightness falls all the way, so the
order survives colour blindness and black-and-white print.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from protocols.field import Floats

DARKEST_FROM_DB = 12.0
"""Depth below the limit from which a loss is drawn darkest."""

_LIGHTNESS = (0.96, 0.78, 0.60, 0.43, 0.26)
_CHROMA = (0.03, 0.075, 0.10, 0.10, 0.08)
_HUE_DEG = (85.0, 60.0, 35.0, 0.0, -40.0)

_LMS_FROM_LAB = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_RGB_FROM_LMS = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


def depth_colour(below_db: float) -> tuple[float, float, float]:
    """sRGB (0..1) of a depth below the limit in dB; at 0 palest, from `DARKEST_FROM_DB` darkest."""
    table = _table()
    share = min(max(below_db / DARKEST_FROM_DB, 0.0), 1.0)
    red, green, blue = (float(v) for v in table[round(share * (len(table) - 1))])
    return red, green, blue


def is_dark(colour: tuple[float, float, float]) -> bool:
    """Whether pale marks stand out better on a colour than dark ones."""
    return float(np.dot(colour, (0.3, 0.59, 0.11))) < 0.5


@cache
def _table(steps: int = 241) -> Floats:
    """Colours (steps, 3) at equal distances along the path."""
    path = _path(np.linspace(0, 1, 2001))
    walked = np.concatenate([[0.0], np.linalg.norm(np.diff(path, axis=0), axis=1).cumsum()])
    at = np.interp(np.linspace(0, walked[-1], steps), walked, np.linspace(0, 1, 2001))
    return _srgb(_path(at))


def _path(t: Floats) -> Floats:
    """OKLab colours (n, 3) at positions t (n,) from 0 to 1."""
    knots = np.linspace(0, 1, len(_LIGHTNESS))
    chroma = np.interp(t, knots, _CHROMA)
    hue = np.radians(np.interp(t, knots, _HUE_DEG))
    lightness = np.interp(t, knots, _LIGHTNESS)
    return np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)


def _srgb(oklab: Floats) -> Floats:
    """Gamma-encoded sRGB (n, 3) of OKLab colours (n, 3)."""
    linear = (oklab @ _LMS_FROM_LAB.T) ** 3 @ _RGB_FROM_LMS.T
    bent = 1.055 * linear ** (1 / 2.4) - 0.055
    return np.asarray(np.where(linear <= 0.0031308, 12.92 * linear, bent))
