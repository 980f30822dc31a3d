"""The fit: two routes to the same quantile plane, and recovery of an invented truth."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from healthy_people import drawn, simple
from scipy import stats

from analysis.reference_build.fit import fit_levels
from analysis.reference_build.quantile import MANY, exact_line, quantile_line


@pytest.mark.parametrize("share", [0.01, 0.05, 0.5, 0.95])
@pytest.mark.parametrize("points", [300, 6000])
def test_linear_programme_and_statsmodels_agree(share, points):
    """statsmodels' iterated fit, live; both routes of the exact one (few points, many points)."""
    dice = np.random.default_rng(points)
    x = np.column_stack([np.ones(points), dice.uniform(-30, 30, points)])
    y = 3 - 0.05 * x[:, 1] + dice.normal(0, 2, points)
    assert (points > MANY) == (points == 6000)
    assert exact_line(x, y, share) == pytest.approx(quantile_line(x, y, share), abs=2e-3)


@pytest.mark.parametrize("share", [0.01, 0.1, 0.5])
def test_that_share_of_points_lies_below_the_plane(share):
    dice = np.random.default_rng(3)
    x = np.column_stack([np.ones(4000), dice.uniform(-1, 1, 4000)])
    y = dice.standard_t(3, 4000) * (1 + 0.5 * x[:, 1])
    below = np.mean(y < x @ exact_line(x, y, share) - 1e-9)
    assert below == pytest.approx(share, abs=3 / 4000)


def test_the_invented_truth_comes_back():
    """Medians 25 and -0.05 dB a year; limits at the normal quantiles of SD 2; 1,500 people."""
    fit = fit_levels(simple(1500, 1))
    at_fifty = fit.medians_db(np.array([50.0]))[0]
    assert at_fifty == pytest.approx([25, 25, 25], abs=0.25)
    assert fit.change_db_per_year == pytest.approx([-0.05] * 3, abs=0.01)
    for depth in fit.depths:
        error = 2 * np.sqrt(depth.share * (1 - depth.share) / 9000)
        error /= stats.norm.pdf(stats.norm.ppf(depth.share))
        assert depth.depth_db == pytest.approx(2 * stats.norm.ppf(depth.share), abs=4 * error)


def test_eyes_are_pooled_at_mirrored_places():
    """6 dB more at the temporal place: it is found there, for both eyes, and nowhere else."""
    fit = fit_levels(simple(400, 2, temporal_gain_db=6.0))
    at_fifty = fit.medians_db(np.array([50.0]))[0]
    assert at_fifty == pytest.approx([31, 25, 25], abs=0.5)


def test_shares_do_not_cross_within_the_ages():
    sample = drawn(200, 4)
    fit = fit_levels(sample)
    ages = np.array([20.0, 50.0, 85.0])
    levels = [
        fit.levels_db(ages, sample.eccentricity_deg, share)
        for share in (0.01, 0.05, 0.25, 0.5, 0.75, 0.95)
    ]
    assert all((high > low).all() for low, high in pairwise(levels))


def test_one_place_alone_can_be_fitted():
    whole = simple(100, 5)
    fit = fit_levels(type(whole)(whole.codes, whole.age_years, whole.level_db[:, :, :1],
                                 whole.places[:1]))  # fmt: skip
    assert fit.median_db.shape == (1,)
    assert np.isfinite([depth.depth_db for depth in fit.depths]).all()
