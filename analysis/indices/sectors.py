"""Halves and sectors of a field.

The map of sectors is our own, from the assumed course of nerve fibres in
`protocols.population.fibres` (ellipses from disc to raphe, an own drawing of textbook anatomy):
above and below the raphe an inner and an outer bundle of arches and the places that lie level with
or temporal of the disc, and the middle by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from protocols.field import Place
from protocols.population.fibres import arch_height_deg, half_field

INNER_BELOW_DEG, OUTER_BELOW_DEG = 15.0, 30.0
MIDDLE_DEG = 3.0
SAME_DEG = 0.05


@dataclass(frozen=True)
class SectorPlaces:
    """A sector: its name, its places' numbers, the sector that mirrors it across the raphe."""

    name: str
    places: tuple[int, ...]
    mirrored: str


def sectors(places: Sequence[Place]) -> list[SectorPlaces]:
    """Sectors of a right eye's places that hold any, the upper ones first."""
    return list(_sectors(tuple(places)))


@cache
def _sectors(places: tuple[Place, ...]) -> list[SectorPlaces]:
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
    return list(_mirrored_pairs(tuple(places)))


@cache
def _mirrored_pairs(places: tuple[Place, ...]) -> list[tuple[int, int]]:
    return [
        (upper, lower)
        for upper, a in enumerate(places)
        for lower, b in enumerate(places)
        if a.y_deg > SAME_DEG
        and abs(a.x_deg - b.x_deg) < SAME_DEG
        and abs(a.y_deg + b.y_deg) < SAME_DEG
    ]
