"""Two numbers for an eye against a reference: mean and spread of the deviations, in contrast dB.

They are those of result.json (`analysis.indices`), as is each place's own deviation.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.result import EyeResult, PlaceResult

LEAST_PLACES = 2


@dataclass(frozen=True)
class Deviation:
    """Mean deviation and standard deviation of the deviations about it, contrast dB."""

    mean_db: float
    pattern_db: float


def place_deviation_db(place: PlaceResult) -> float | None:
    """Deviation from the reference's mean; None where the place was not tested to the end."""
    return None if place.deviation is None else place.deviation.value_db


def eye_deviation(found: EyeResult) -> Deviation | None:
    """Over all places of an eye; None if one was not tested to the end or there are too few."""
    indices = found.indices
    if indices is None or not LEAST_PLACES <= indices.places == len(found.places):
        return None
    return Deviation(indices.mean_deviation.value_db, indices.deviation_sd.value_db)
