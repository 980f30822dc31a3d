"""Test patterns: the places of an exam, written for the right eye, and what makes one refusable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Annotated, Literal

import msgspec

from protocols.errors import InputError
from protocols.field import Eye, Place, for_eye, polar_place, separation_deg

Degrees = Annotated[float, msgspec.Meta(ge=-80.0, le=80.0)]
Eccentricity = Annotated[float, msgspec.Meta(ge=0.0, le=80.0)]
Polar = Annotated[float, msgspec.Meta(ge=-360.0, le=360.0)]

BLIND_SPOT_PLACE = Place(15.5, -1.5)
"""Mean centre of the right eye's blind spot; Rohrschneider 2004, IOVS 45:1000."""
BLIND_SPOT_HALF_SIZE_DEG = (3.0, 4.4)
"""Half width and half height of the blind spot (5-7 by 7.5-10 degrees); same source."""
BLIND_SPOT_LOCATION_SD_DEG = (1.1, 0.9)
"""Spread of its centre between people, across and up; same source."""


class Ring(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Places at one eccentricity, at the given polar angles."""

    eccentricity_deg: Eccentricity
    polar_angles_deg: Annotated[list[Polar], msgspec.Meta(min_length=1)]


class PatternFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A pattern as a TOML table: rings, single places, or both."""

    format: Literal[1]
    name: Annotated[str, msgspec.Meta(min_length=1)]
    about: str = ""
    rings: list[Ring] = []
    places_deg: list[tuple[Degrees, Degrees]] = []


@dataclass(frozen=True)
class Pattern:
    """A named set of places for the right eye, in degrees."""

    name: str
    places: tuple[Place, ...]

    def for_eye(self, eye: Eye) -> tuple[Place, ...]:
        """The places of `eye`; the left eye's are mirrored in x."""
        return tuple(for_eye(place, eye) for place in self.places)


def pattern_of(file: PatternFile, source: str) -> Pattern:
    """The pattern a file describes; raises InputError if it holds no place."""
    places = [
        polar_place(ring.eccentricity_deg, angle)
        for ring in file.rings
        for angle in ring.polar_angles_deg
    ] + [Place(x, y) for x, y in file.places_deg]
    if not places:
        raise InputError(
            f"{source}, places_deg", "no place", "at least one", "Add rings or places_deg."
        )
    return Pattern(file.name, tuple(places))


def refuse_overlap(places: Sequence[Place], patch_radius_deg: float, source: str) -> None:
    """Raise InputError if two patches would overlap; names the two places and their distance."""
    for a, b in combinations(places, 2):
        apart = separation_deg(a, b)
        if apart < 2 * patch_radius_deg:
            raise InputError(
                f"{source}, pattern",
                f"places {named(a)} and {named(b)} that are {apart:.2f} degrees apart",
                f"at least {2 * patch_radius_deg:g} degrees, so that patches do not overlap",
                "Move one of them or make the patch smaller.",
            )


def on_blind_spot(place: Place, centre: Place = BLIND_SPOT_PLACE) -> bool:
    """Whether a right-eye place lies on the blind spot, taken one SD of its location larger.

    The margin is our rule: the blind spot's mean size widened by the spread of its place. Source:
    Rohrschneider 2004, IOVS 45:1000.
    """
    half_x, half_y = (
        half + spread
        for half, spread in zip(BLIND_SPOT_HALF_SIZE_DEG, BLIND_SPOT_LOCATION_SD_DEG, strict=True)
    )
    return ((place.x_deg - centre.x_deg) / half_x) ** 2 + (
        (place.y_deg - centre.y_deg) / half_y
    ) ** 2 < 1


def refuse_blind_spot(places: Sequence[Place], source: str) -> None:
    """Raise InputError if a place lies on the blind spot, where nobody can see it."""
    for place in places:
        if on_blind_spot(place):
            raise InputError(
                f"{source}, pattern",
                f"a place at {named(place)}, on the blind spot",
                f"places outside the blind spot around {named(BLIND_SPOT_PLACE)} of the right eye",
                "Move the place or leave it out.",
            )


def named(place: Place) -> str:
    """A place in words.

    >>> named(Place(9.5, -3.25))
    '(9.5, -3.25) deg'
    """
    return f"({place.x_deg:.4g}, {place.y_deg:.4g}) deg"
