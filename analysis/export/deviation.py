"""Two numbers for an eye against a reference: mean and pattern of the deviations, in contrast dB.

Deviation is estimate less the reference's mean for age and place. All places weigh the same.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.result import PlaceResult


@dataclass(frozen=True)
class Deviation:
    """Mean deviation, pattern standard deviation (contrast dB), places never seen."""

    mean_db: float
    pattern_db: float
    not_seen: int


def place_deviation_db(place: PlaceResult) -> float | None:
    """Estimate less the reference's mean; None without an estimate."""
    return None if place.estimate_db is None else place.estimate_db - place.reference_mean_db


def eye_deviation(places: Sequence[PlaceResult]) -> Deviation | None:
    """Over all places of an eye; None if one has no estimate or there are fewer than two.

    The pattern is the standard deviation of the deviations about their mean, n - 1 below.
    """
    values = [place_deviation_db(place) for place in places]
    known = [value for value in values if value is not None]
    if len(known) != len(values) or len(known) < 2:
        return None
    unseen = sum(not place.seen for place in places)
    return Deviation(statistics.fmean(known), statistics.stdev(known), unseen)
