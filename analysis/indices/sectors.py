"""Halves and sectors of a field, and the test of one half against the other.

The map of sectors is our own, from the assumed course of nerve fibres in
`protocols.population.fibres` (ellipses from disc to raphe, an own drawing of textbook anatomy):
above and below the raphe an inner and an outer bundle of arches and the places that lie level with
or temporal of the disc, and the middle by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from protocols.field import Floats, Place
from protocols.population.fibres import arch_height_deg, half_field

INNER_BELOW_DEG, OUTER_BELOW_DEG = 15.0, 30.0
MIDDLE_DEG = 3.0
SAME_DEG = 0.05
MOST_EXACT = 16
"""Pairs up to which all sign flips are counted; beyond it so many are drawn, with a fixed seed."""
FLIPS = 65536


@dataclass(frozen=True)
class SectorPlaces:
    """A sector: its name, its places' numbers, the sector that mirrors it across the raphe."""

    name: str
    places: tuple[int, ...]
    mirrored: str


def sectors(places: Sequence[Place]) -> list[SectorPlaces]:
    """Sectors of a right eye's places that hold any, the upper ones first."""
    names = [_name(*one) for one in zip(places, arch_height_deg(places), half_field(places),
                                        strict=True)]  # fmt: skip
    order = [f"{half} {ring}" for half in ("upper", "lower") for ring in _RINGS]
    return [
        SectorPlaces(name, tuple(k for k, own in enumerate(names) if own == name), _across(name))
        for name in [*order, "middle", "raphe"]
        if name in names
    ]


_RINGS = ("inner arches", "outer arches", "temporal")


def _name(place: Place, height_deg: float, half: float) -> str:
    if place.eccentricity_deg <= MIDDLE_DEG:
        return "middle"
    if half == 0:
        return "raphe"
    ring = _RINGS[(height_deg >= INNER_BELOW_DEG) + int(height_deg >= OUTER_BELOW_DEG)]
    return f"{'upper' if half > 0 else 'lower'} {ring}"


def _across(name: str) -> str:
    half, _, ring = name.partition(" ")
    return {"upper": f"lower {ring}", "lower": f"upper {ring}"}.get(half, "")


def mirrored_pairs(places: Sequence[Place]) -> list[tuple[int, int]]:
    """Numbers of upper and lower places that mirror each other across the horizontal."""
    return [
        (upper, lower)
        for upper, a in enumerate(places)
        for lower, b in enumerate(places)
        if a.y_deg > SAME_DEG
        and abs(a.x_deg - b.x_deg) < SAME_DEG
        and abs(a.y_deg + b.y_deg) < SAME_DEG
    ]


def sign_flip_p(differences: Floats) -> float:
    """Two-sided p of a mean difference: share of sign flips with a mean as far from 0 or farther.

    Exact by enumeration up to 16 pairs. It holds where a pair is as likely to favour either half.

    >>> sign_flip_p(np.array([1.0, 2.0, 3.0]))
    0.25
    """
    count = len(differences)
    if count == 0:
        return 1.0
    sums = _flips(count) @ differences
    return float(np.mean(np.abs(sums) >= abs(differences.sum()) - 1e-9))


def _flips(count: int) -> Floats:
    if count > MOST_EXACT:
        drawn = np.random.default_rng(0).choice([-1.0, 1.0], size=(FLIPS, count))
        drawn[0] = 1.0
        return np.asarray(drawn)
    bits = (np.arange(2**count)[:, None] >> np.arange(count)) & 1
    return np.asarray(1.0 - 2.0 * bits)
