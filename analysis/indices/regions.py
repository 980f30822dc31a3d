"""Regions of a field that loss may take: what the whole-field test looks for.

Own set, drawn up from the course of nerve fibres (`protocols.population.fibres`) and from plain
neighbourhood, for any pattern: the whole field, each half, bands of arches from somewhere along
their course to the raphe, nasal wedges, round patches, single places, all but the middle.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import combinations

import numpy as np

from protocols.field import Floats, Place
from protocols.population.fibres import along_arch, arch_height_deg, half_field
from protocols.procedures.interface import Bools

BAND_EDGES_DEG = (2.0, 8.0, 15.0, 22.0, 30.0, 60.0, 100.0)
STARTS = (0.0, 0.3, 0.6)
PATCH_RADII_DEG = (9.9, 14.0)
WEDGES_DEG = (35.0, 60.0)
SPARED_DEG = (5.0, 12.0)


@cache
def regions(places: tuple[Place, ...]) -> tuple[Bools, Floats]:
    """Regions of a right eye's places, (regions, places), and the weight of each, summing to 1.

    The regions of a family share its weight alike.
    """
    rows: dict[bytes, tuple[Bools, float]] = {}
    for family, share in _FAMILIES.items():
        members = _apart(family(places))
        for region in members:
            weight = rows.get(region.tobytes(), (region, 0.0))[1]
            rows[region.tobytes()] = (region, weight + share / len(members))
    found = list(rows.values())
    weights = np.array([weight for _, weight in found])
    return np.stack([region for region, _ in found]), weights / weights.sum()


def _apart(found: Iterator[Bools]) -> list[Bools]:
    """Each region once, none of them empty."""
    kept = {region.tobytes(): region for region in found if region.any()}
    return list(kept.values())


def _whole(places: Sequence[Place]) -> Iterator[Bools]:
    yield np.ones(len(places), np.bool_)


def _halves(places: Sequence[Place]) -> Iterator[Bools]:
    half = half_field(places)
    for side in (1, -1):
        yield half == side


def _bands(places: Sequence[Place]) -> Iterator[Bools]:
    arch, half, along = arch_height_deg(places), half_field(places), along_arch(places)
    for low, high in combinations(BAND_EDGES_DEG, 2):
        for side in (1, -1):
            for start in STARTS:
                yield (half == side) & (arch >= low) & (arch < high) & (along >= start)


def _wedges(places: Sequence[Place]) -> Iterator[Bools]:
    x, y = np.array([[place.x_deg, place.y_deg] for place in places]).T
    half, out = half_field(places), np.hypot(x, y)
    steep = np.degrees(np.arctan2(np.abs(y), -x))
    for side in (1, -1):
        for widest in WEDGES_DEG:
            for inner in SPARED_DEG:
                yield (half == side) & (x < 0) & (steep < widest) & (out > inner)


def _patches(places: Sequence[Place]) -> Iterator[Bools]:
    xy = np.array([[place.x_deg, place.y_deg] for place in places])
    apart = np.hypot(*(xy[:, None] - xy).transpose(2, 0, 1))
    for radius in PATCH_RADII_DEG:
        yield from apart < radius


def _lone(places: Sequence[Place]) -> Iterator[Bools]:
    yield from np.eye(len(places), dtype=np.bool_)


def _all_but_the_middle(places: Sequence[Place]) -> Iterator[Bools]:
    out = np.array([place.eccentricity_deg for place in places])
    for spared in SPARED_DEG:
        yield out > spared


Family = Callable[[Sequence[Place]], Iterator[Bools]]
_FAMILIES: dict[Family, float] = {
    _whole: 1.0,
    _halves: 1.0,
    _bands: 1.0,
    _wedges: 1.0,
    _patches: 1.0,
    _lone: 6.0,
    _all_but_the_middle: 1.0,
}
"""Families with their weights; a lone place has more, since fewer answers can speak for it."""
