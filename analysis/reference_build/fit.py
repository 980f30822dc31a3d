"""From levels of healthy people to medians by place and depths by share.

1. Median regression on age at each place (statsmodels), both eyes of a person as two rows.
2. Spatial pooling of its slope: a straight line over eccentricity through the places' slopes; the
   median at the middle age is then taken anew at each place.
3. Quantile regression of what is left, all places together, on age and eccentricity: the depth of
   each share below or above the median, the same at all places but for these two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.measured import Depth
from analysis.reference_build.quantile import Line, quantile_line
from analysis.reference_build.sample import Sample
from protocols.field import Floats
from protocols.procedures.interface import Bools

SHARES = (0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99)

METHOD = (
    "Medians: quantile regression of level on age at each place, both eyes of a person as rows, "
    "left eyes mirrored; levels are the exams' own estimates in delivered contrast dB."
)
POOLING = (
    "The change of the median with age is a straight line over eccentricity through the places' "
    "own slopes; the distance of each share from the median is one quantile regression over all "
    "places on age and eccentricity."
)


@dataclass(frozen=True)
class Fit:
    """Medians at the middle age and their change a year, (places,); depths by share."""

    middle_age_years: float
    middle_eccentricity_deg: float
    median_db: Floats
    change_db_per_year: Floats
    depths: tuple[Depth, ...]

    def medians_db(self, age_years: Floats) -> Floats:
        """Median levels, (people, places)."""
        years = np.asarray(age_years)[:, None] - self.middle_age_years
        return np.asarray(self.median_db + self.change_db_per_year * years)

    def levels_db(self, age_years: Floats, eccentricity_deg: Floats, share: float) -> Floats:
        """Levels of a share that was fitted, (people, places)."""
        depth = next(one for one in self.depths if one.share == share)
        years = np.asarray(age_years)[:, None] - self.middle_age_years
        away = eccentricity_deg - self.middle_eccentricity_deg
        slopes = depth.change_db_per_year * years + depth.change_db_per_deg * away
        return np.asarray(self.medians_db(age_years) + depth.depth_db + slopes)


def fit_levels(
    sample: Sample, shares: Sequence[float] = SHARES, line: Line = quantile_line
) -> Fit:
    """Fit a sample; every place needs people, and ages need to differ."""
    middle_age = float(np.median(sample.age_years))
    away = sample.eccentricity_deg
    middle_away = float(np.median(away))
    years = np.repeat((sample.age_years - middle_age)[:, None], 2, axis=1)
    change = _pooled_slopes(sample, years, away, line)
    level = sample.level_db - years[..., None] * change
    median = np.nanmedian(level.reshape(-1, len(away)), axis=0)
    rest = level - median
    return Fit(
        middle_age,
        middle_away,
        median,
        change,
        tuple(
            _depth(rest, sample.known, years, away - middle_away, share, line) for share in shares
        ),
    )


def _pooled_slopes(sample: Sample, years: Floats, away_deg: Floats, line: Line) -> Floats:
    """Change of the median a year at each place, smoothed over eccentricity."""
    slopes = [
        _slope(sample.level_db[:, :, k], sample.known[:, :, k], years, line)
        for k in range(len(away_deg))
    ]
    outward = np.column_stack([np.ones_like(away_deg), away_deg])
    if np.linalg.matrix_rank(outward) < 2:
        return np.full(len(away_deg), float(np.mean(slopes)))
    return np.asarray(outward @ np.linalg.lstsq(outward, np.array(slopes), rcond=None)[0])


def _slope(level_db: Floats, known: Bools, years: Floats, line: Line) -> float:
    x = np.column_stack([np.ones(int(known.sum())), years[known]])
    return float(line(x, level_db[known], 0.5)[1])


def _depth(
    rest: Floats, known: Bools, years: Floats, away_deg: Floats, share: float, line: Line
) -> Depth:
    if share == 0.5:
        return Depth(share=share, depth_db=0.0, change_db_per_year=0.0, change_db_per_deg=0.0)
    at_age = np.broadcast_to(years[..., None], rest.shape)[known]
    at_place = np.broadcast_to(away_deg, rest.shape)[known]
    columns = [np.ones_like(at_age), at_age, at_place]
    kept = [0, *(k for k in (1, 2) if np.ptp(columns[k]) > 0)]
    found = np.zeros(3)
    found[kept] = line(np.column_stack([columns[k] for k in kept]), rest[known], share)
    constant, by_age, by_place = (round(float(v), 6) for v in found)
    return Depth(
        share=share, depth_db=constant, change_db_per_year=by_age, change_db_per_deg=by_place
    )
