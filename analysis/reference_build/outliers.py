"""People to look at again, by code: far from the others in general, or at a lone place.

Nobody is removed for it: an age limit made of the best of the healthy would flag the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.reference_build.fit import Fit
from analysis.reference_build.sample import Sample
from protocols.field import Floats

HEIGHT_SCORE = 3.5
"""Modified z-score from which a whole field is unlike the others (Iglewicz & Hoaglin 1993)."""
PLACE_SCORE = 5.0
"""The same for one place, which has far more chances to be odd; our choice."""
_MAD_TO_SD = 1.4826


@dataclass(frozen=True)
class Outlier:
    """A code with the mean deviation of its field from the medians, the worst place, and why."""

    code: str
    age_years: float
    mean_db: float
    worst_db: float
    worst_place: int
    reason: str


def outliers(sample: Sample, fit: Fit) -> tuple[Outlier, ...]:
    """People whose levels are unlike the others', in the order of codes."""
    rest = sample.level_db - fit.medians_db(sample.age_years)[:, None, :]
    mean = np.nanmean(rest, axis=(1, 2))
    worst = np.nanmin(rest, axis=1)
    height, place = _scores(mean), _scores(worst - mean[:, None])
    return tuple(
        _outlier(sample, person, mean, worst, reason)
        for person in range(len(sample))
        if (reason := _reason(float(height[person]), place[person]))
    )


def _scores(values: Floats) -> Floats:
    """Distance from the median in robust SD (median absolute deviation)."""
    away = values - np.median(values)
    spread = _MAD_TO_SD * float(np.median(np.abs(away)))
    return away / spread if spread > 0 else np.zeros_like(away)


def _reason(height: float, places: Floats) -> str:
    if abs(height) > HEIGHT_SCORE:
        return f"the whole field is {'higher' if height > 0 else 'lower'} than the others'"
    if float(places.min()) < -PLACE_SCORE:
        return "one place is far lower than the rest of the field"
    return ""


def _outlier(sample: Sample, person: int, mean: Floats, worst: Floats, reason: str) -> Outlier:
    place = int(np.argmin(worst[person]))
    return Outlier(
        code=sample.codes[person],
        age_years=float(sample.age_years[person]),
        mean_db=round(float(mean[person]), 2),
        worst_db=round(float(worst[person, place]), 2),
        worst_place=place,
        reason=reason,
    )
