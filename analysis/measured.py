"""Limits measured on healthy people: the part of a reference file that a lab's own exams make.

A level at a place is the median there, which changes with age, plus a depth for the share asked
for. The medians belong to each place; the depths are shared by all places (spatial pooling) and
change with age and eccentricity. Places are written for the right eye; left eyes are mirrored.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated

import msgspec
import numpy as np
from scipy.special import ndtri

from protocols.errors import InputError
from protocols.field import Floats, Place
from protocols.files import cross_check_error
from protocols.procedures.interface import Ints

NEAR_DEG = 0.1
"""How far a place asked for may lie from the one that was measured."""

Degrees = Annotated[float, msgspec.Meta(ge=-80.0, le=80.0)]
Level = Annotated[float, msgspec.Meta(ge=-20.0, le=60.0)]
Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]
PerYear = Annotated[float, msgspec.Meta(ge=-2.0, le=2.0)]
PerDegree = Annotated[float, msgspec.Meta(ge=-3.0, le=3.0)]


_NOT_BY_HAND = "Take the file as ripplefield reference build wrote it."


class MeasuredPlace(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One place: median at the middle age, its change a year, and what its limit is worth.

    `people` counts those with a level here. `left_out_below` is the share of people below the
    1 % limit when each is left out of the fit in turn; `at_most_share` what the share of all
    healthy people below it is at most, with the confidence the file states.
    """

    x_deg: Degrees
    y_deg: Degrees
    median_db: Level
    change_db_per_year: PerYear
    spread_db: Annotated[float, msgspec.Meta(gt=0.0, le=20.0)]
    people: Annotated[int, msgspec.Meta(ge=1)]
    left_out_below: Share
    at_most_share: Share


class Depth(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How far the level of a share of people lies from the median, at all places alike."""

    share: Annotated[float, msgspec.Meta(gt=0.0, lt=1.0)]
    depth_db: Annotated[float, msgspec.Meta(ge=-40.0, le=40.0)]
    change_db_per_year: PerYear
    change_db_per_deg: PerDegree


class Tolerance(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How sure a limit is: the share of healthy people's places that lie below it.

    `left_out` is that share among the people measured, each judged by a fit without them;
    `interval` holds it for all healthy people with the file's confidence.
    """

    share: Annotated[float, msgspec.Meta(gt=0.0, lt=1.0)]
    left_out: Share
    interval: tuple[Share, Share]

    def __post_init__(self) -> None:
        low, high = self.interval
        if high < low:
            raise cross_check_error("interval", high, f"{low:g} and up", _NOT_BY_HAND)


class Measured(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Everything measured; `method` and `pooling` say in words how."""

    method: str
    pooling: str
    protocol: str
    protocol_sha256: str
    procedure: str
    pattern: str
    exams: Annotated[int, msgspec.Meta(ge=1)]
    eyes: Annotated[int, msgspec.Meta(ge=1)]
    uncalibrated: Annotated[int, msgspec.Meta(ge=0)]
    confidence: Annotated[float, msgspec.Meta(gt=0.5, lt=1.0)]
    middle_age_years: Annotated[float, msgspec.Meta(ge=5, le=110)]
    middle_eccentricity_deg: Annotated[float, msgspec.Meta(ge=0, le=80)]
    wilks_content: Share
    outliers: list[str]
    places: Annotated[list[MeasuredPlace], msgspec.Meta(min_length=1)]
    depths: Annotated[list[Depth], msgspec.Meta(min_length=2)]
    tolerances: Annotated[list[Tolerance], msgspec.Meta(min_length=1)]

    def __post_init__(self) -> None:
        for below, above in pairwise(depth.share for depth in self.depths):
            if above <= below:
                raise cross_check_error(
                    "depths.share", above, f"above {below:g}, the one before it", _NOT_BY_HAND
                )


def median_levels_db(measured: Measured, places: Sequence[Place], age_years: float) -> Floats:
    """Median of healthy people of an age, (places,); raises InputError for a place not measured."""
    found = [measured.places[k] for k in place_numbers(measured, places)]
    years = age_years - measured.middle_age_years
    return np.array([one.median_db + one.change_db_per_year * years for one in found])


def level_db(
    measured: Measured, places: Sequence[Place], age_years: float, share: float
) -> Floats:
    """Level with this share of healthy people of an age below it, (places,).

    Between the shares of the file it goes along a straight line on the normal scale. Raises
    InputError for a share outside them or a place not measured.
    """
    numbers = place_numbers(measured, places)
    away = np.array([np.hypot(measured.places[k].x_deg, measured.places[k].y_deg) for k in numbers])
    deviation = depths_db(measured, away, np.full(len(away), float(age_years)), share)
    return median_levels_db(measured, places, age_years) + deviation


def depths_db(measured: Measured, away_deg: Floats, age_years: Floats, share: float) -> Floats:
    """Level of a share less the median, dB, at eccentricities and ages of the same shape.

    Raises InputError for a share outside those the reference holds.
    """
    known = [one.share for one in measured.depths]
    if not known[0] <= share <= known[-1]:
        raise InputError(
            "share", share, f"{known[0]:g} to {known[-1]:g}, the shares the reference holds",
            "Ask for a share within them.",
        )  # fmt: skip
    above = min(max(int(np.searchsorted(known, share)), 1), len(known) - 1)
    low, high = (
        _depth(measured, measured.depths[k], away_deg, age_years) for k in (above - 1, above)
    )
    z_low, z_high, z = ndtri(known[above - 1]), ndtri(known[above]), ndtri(share)
    return np.asarray(low + (high - low) * (z - z_low) / (z_high - z_low))


def _depth(measured: Measured, depth: Depth, away_deg: Floats, age_years: Floats) -> Floats:
    years = age_years - measured.middle_age_years
    degrees = away_deg - measured.middle_eccentricity_deg
    return np.asarray(
        depth.depth_db + depth.change_db_per_year * years + depth.change_db_per_deg * degrees
    )


def place_numbers(measured: Measured, places: Sequence[Place]) -> Ints:
    """Number of the measured place at each place of a right eye; raises InputError for none."""
    known = np.array([[one.x_deg, one.y_deg] for one in measured.places])
    asked = np.array([[place.x_deg, place.y_deg] for place in places])
    apart = np.hypot(*(known[None] - asked[:, None]).transpose(2, 0, 1))
    nearest, worst = apart.argmin(axis=1), float(apart.min(axis=1).max())
    if worst > NEAR_DEG:
        raise InputError(
            "pattern",
            f"a place {worst:.1f} degrees from the nearest one of the reference",
            f"the places of {measured.pattern}, within {NEAR_DEG:g} degrees",
            "Use a reference that was measured at these places.",
        )
    return np.asarray(nearest, np.int64)
