"""A simple map of the nerve-fibre course in the visual field of a right eye.

Fibres leave the disc, whose image is the blind spot, arch over or under the fixation mark and end
on the horizontal raphe on the nasal side. Assumed here: each arch is half an ellipse with its ends
on the disc and on the raphe as far nasal of the mark as the arch is high, so that the arches of a
half field are nested. An own drawing of textbook anatomy, not a fit to any published tracing; the
centre of the disc is that of Rohrschneider 2004, IOVS 45:1000.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from protocols.field import Floats, Place
from protocols.pattern import BLIND_SPOT_PLACE

TALLEST_DEG = 90.0
_HEIGHTS_DEG = np.linspace(0.25, TALLEST_DEG, 360)


def arch_height_deg(places: Sequence[Place]) -> Floats:
    """Height of the arch through each place, degrees, shape (places,).

    Places level with or temporal of the disc lie on no arch: they get `TALLEST_DEG`.
    """
    return np.array([_height(place) for place in places])


def half_field(places: Sequence[Place]) -> Floats:
    """+1 above the raphe, -1 below it, 0 within a degree of it; shape (places,)."""
    rise = np.array([place.y_deg - _raphe_y_deg(place.x_deg) for place in places])
    return np.where(np.abs(rise) < 1.0, 0.0, np.sign(rise))


def along_arch(places: Sequence[Place]) -> Floats:
    """How far along its arch a place is: 0 on the disc, 1 on the nasal raphe; shape (places,)."""
    height = arch_height_deg(places)
    x = np.array([place.x_deg for place in places])
    share = (BLIND_SPOT_PLACE.x_deg - x) / (BLIND_SPOT_PLACE.x_deg + height)
    return np.clip(share, 0.0, 1.0)


def _raphe_y_deg(x_deg: float) -> float:
    """The line between the half fields: level on the nasal side, down to the disc on the other."""
    slope = BLIND_SPOT_PLACE.y_deg / BLIND_SPOT_PLACE.x_deg
    return slope * min(max(x_deg, 0.0), BLIND_SPOT_PLACE.x_deg)


def _height(place: Place) -> float:
    """The lowest arch that passes over the place."""
    rise = abs(place.y_deg - _raphe_y_deg(place.x_deg))
    disc = BLIND_SPOT_PLACE.x_deg
    product = np.maximum((disc - place.x_deg) * (place.x_deg + _HEIGHTS_DEG), 0.0)
    arch = 2 * _HEIGHTS_DEG * np.sqrt(product) / (disc + _HEIGHTS_DEG)
    over = (arch >= rise) & (product > 0)
    return float(_HEIGHTS_DEG[np.argmax(over)]) if over.any() else TALLEST_DEG
