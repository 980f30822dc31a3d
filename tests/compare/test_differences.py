"""Differences of posteriors: the convolution against draws, and against normal theory."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.compare_levels import posterior_difference
from analysis.posterior import STEP_DB, Posterior

LEVELS = np.arange(-5.0, 40.05, STEP_DB)


def normal(mean, sd, levels=LEVELS):
    mass = stats.norm.pdf(levels, mean, sd)
    return Posterior(levels, mass / mass.sum())


def test_normal_posteriors_give_a_normal_difference():
    """SD of the difference: root of the summed squares; two-sided p of the normal."""
    found = posterior_difference(normal(20, 1.5), normal(17, 2.0), -3.0)
    assert found.difference_db == -3.0
    assert found.interval_db == pytest.approx((-3 - 1.96 * 2.5, -3 + 1.96 * 2.5), abs=0.1)
    assert found.p == pytest.approx(2 * stats.norm.cdf(-3 / 2.5), abs=0.01)


def test_steps_of_another_size_are_heeded():
    """A procedure that takes the field as one may believe on steps of its own."""
    coarse = np.arange(-5.0, 40.05, 0.25)
    found = posterior_difference(normal(20, 1.5, coarse), normal(17, 2.0, coarse), -3.0)
    assert found.interval_db == pytest.approx((-3 - 1.96 * 2.5, -3 + 1.96 * 2.5), abs=0.25)


def test_draws_of_lopsided_posteriors_agree():
    dice = np.random.default_rng(1)
    masses = [m / m.sum() for m in dice.gamma(0.3, 1, (2, len(LEVELS)))]
    one, two = (Posterior(LEVELS, mass) for mass in masses)
    draws = [dice.choice(LEVELS, 200_000, p=mass) for mass in masses]
    found = posterior_difference(one, two, two.mean_db - one.mean_db)
    assert found.interval_db == pytest.approx(
        np.quantile(draws[1] - draws[0], [0.025, 0.975]), abs=0.3
    )


def test_grids_that_begin_elsewhere_are_aligned():
    """Two displays with different full contrast: posteriors on shifted grids."""
    shifted = np.arange(-3.3, 40.05, STEP_DB)
    found = posterior_difference(normal(20, 1), normal(20, 1, shifted), 0.0)
    assert np.mean(found.interval_db) == pytest.approx(0.0, abs=0.11)


def test_the_same_posterior_twice_shows_nothing():
    found = posterior_difference(normal(20, 1), normal(20, 1), 0.0)
    assert found.p == pytest.approx(1.0)
    low, high = found.interval_db
    assert low == pytest.approx(-high, abs=0.11)
