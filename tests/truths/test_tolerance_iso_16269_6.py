"""Normal one-sided tolerance factors: NIST handbook 7.2.6.3 and ISO 16269-6, 95/95."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.reference_build.tolerance import at_most_share, clustered_share, normal_factor

AREA = "Statistics"
SOURCE = "NIST handbook 7.2.6.3, ISO 16269-6"

FACTORS = [(20, 2.396), (40, 2.1255), (60, 2.0222), (120, 1.8993)]


@pytest.mark.parametrize(("people", "factor"), FACTORS)
def test_k_of_95_95(truth, people, factor):
    """To the printed digits."""
    truth(f"k of 95/95, {people} people", normal_factor(people, 0.95), factor, 6e-4)


@pytest.mark.parametrize(("people", "factor"), FACTORS)
def test_k_is_that_of_the_noncentral_t(people, factor):
    """scipy's noncentral t, live: P(T <= k sqrt(n)) = 0.95 with shift z sqrt(n)."""
    shift = stats.norm.ppf(0.95) * np.sqrt(people)
    chance = stats.nct.cdf(normal_factor(people, 0.95) * np.sqrt(people), people - 1, shift)
    assert chance == pytest.approx(0.95, abs=1e-9)


@pytest.mark.parametrize(("people", "factor"), FACTORS)
def test_share_at_most_is_the_inverse(people, factor):
    assert at_most_share(people, factor) == pytest.approx(0.05, abs=2e-4)


def test_share_at_most_holds_in_95_of_100_samples():
    """200 normal people, limit at mean - 2.33 SD: the true share below it is rarely above."""
    dice = np.random.default_rng(3)
    samples = dice.standard_normal((4000, 200))
    limits = samples.mean(axis=1) - 2.33 * samples.std(axis=1, ddof=1)
    true = stats.norm.cdf(limits)
    share = np.mean(true <= at_most_share(200, 2.33))
    assert share == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 4000))


def test_a_limit_nobody_could_pass_and_one_that_all_do():
    assert at_most_share(100, -1.0) == 1.0
    assert at_most_share(100, 50.0) == 0.0


def test_without_clusters_the_interval_is_clopper_pearson():
    """One place a person: scipy's exact interval, but for the t in place of the normal."""
    below = np.array([1.0] * 30 + [0.0] * 270)
    found = clustered_share(below, np.ones(300))
    exact = stats.binomtest(30, 300).proportion_ci(method="exact")
    assert found.share == pytest.approx(0.1)
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=0.006)
    assert found.low <= exact.low
    assert found.high >= exact.high


def test_clusters_widen_it():
    """Thirty people all of whose ten places lie below tell no more than thirty draws."""
    below = np.repeat([10.0, 0.0], [30, 270])
    whole = clustered_share(below, np.full(300, 10.0))
    apart = clustered_share(np.ones(300), np.full(300, 10.0))
    assert whole.share == apart.share
    assert whole.worth == pytest.approx(300, rel=0.1)
    assert whole.high - whole.low > 2 * (apart.high - apart.low)


def test_it_covers_a_share_of_clustered_places():
    """People whose chance varies (beta, mean 2 %), 20 places each: at least 93 % of 1,000."""
    dice = np.random.default_rng(5)
    held = []
    for _ in range(1000):
        chance = dice.beta(0.3, 0.3 * 49, 200)
        found = clustered_share(dice.binomial(20, chance).astype(float), np.full(200, 20.0))
        held.append(found.low <= 0.02 <= found.high)
    print(f"held in {np.mean(held):.1%}")
    assert np.mean(held) >= 0.93
