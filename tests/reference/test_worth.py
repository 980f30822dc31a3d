"""What is stated of a limit is kept on fresh people.

The full run is `tests/bench/reference_limits.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from healthy_people import FACTS, drawn, simple
from scipy import stats

from analysis.reference_build.build import _place, build_reference, tolerance
from analysis.reference_build.fit import fit_levels
from analysis.reference_build.left_out import left_out_below
from analysis.reference_build.sample import Sample

REPEATS, PEOPLE = 12, 120


def part(sample, rows):
    return Sample(sample.codes[rows], sample.age_years[rows], sample.level_db[rows], sample.places)


@pytest.fixture(scope="module")
def everyone():
    return drawn(REPEATS * PEOPLE + 10_000, 77, (0, 1, 4, 8, 12))


@pytest.mark.parametrize("share", [0.01, 0.05])
def test_the_realised_rate_lies_within_the_stated_tolerance(everyone, share):
    """12 references of 120 people each. If 93 % kept it, fewer than 9 would be one in 800."""
    fresh = part(everyone, slice(REPEATS * PEOPLE, None))
    kept = []
    for k in range(REPEATS):
        sample = part(everyone, slice(k * PEOPLE, (k + 1) * PEOPLE))
        fit = fit_levels(sample, (share,))
        [below] = left_out_below(sample, fit, (share,))
        low, high = tolerance(sample, share, below).interval
        limit = fit.levels_db(fresh.age_years, fresh.eccentricity_deg, share)
        kept.append(low <= np.mean(fresh.level_db[:, 0] < limit) <= high)
    print(f"{share:.0%} limit: kept in {sum(kept)} of {REPEATS}")
    assert sum(kept) >= 9


def test_left_out_means_fitted_without():
    """One person's verdict by hand: refit without them, statsmodels' way."""
    sample = simple(70, 3)
    below = left_out_below(sample, fit_levels(sample, (0.05,)), (0.05,))
    lowest = int(np.nanargmin(sample.level_db.min(axis=(1, 2))))
    for person in (lowest, 0, 35):
        fit = fit_levels(sample.without(person), (0.05,))
        limit = fit.levels_db(sample.age_years[[person]], sample.eccentricity_deg, 0.05)[0]
        # a level that the two solvers put on the line itself may fall to either side
        clear = np.abs(sample.level_db[person] - limit) > 0.01
        expected = sample.level_db[person] < limit
        assert (below[0, person] == expected)[clear].all()
    assert below[0, lowest].any()


def test_left_out_people_are_below_a_little_more_often_than_those_in_the_fit():
    sample = simple(80, 5)
    built = build_reference(sample, FACTS, "try")
    limit = built.fit.levels_db(sample.age_years, sample.eccentricity_deg, 0.05)[:, None]
    inside = (sample.level_db < limit).sum()
    assert built.below[1].sum() >= inside


def test_each_place_says_at_most_what_share_lies_below():
    """Truth known: SD 2 normal, so the share below each limit is known; 60 samples of 80 people."""
    kept = []
    for seed in range(60):
        sample = simple(80, 100 + seed)
        fit = fit_levels(sample, (0.01,))
        middle = np.array([50.0])
        limit = fit.levels_db(middle, sample.eccentricity_deg, 0.01)[0]
        true = stats.norm.cdf(limit, 25, 2)
        below = np.zeros_like(sample.known)
        said = [_place(sample, fit, below, k).at_most_share for k in range(3)]
        kept += [t <= s for t, s in zip(true, said, strict=True)]
    print(f"kept at {np.mean(kept):.1%} of places")
    assert np.mean(kept) >= 0.93
