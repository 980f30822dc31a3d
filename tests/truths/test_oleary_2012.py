"""O'Leary, Chauhan & Artes 2012, IOVS 53:6776: permutation of pointwise regression.

Checked against the method written out plainly with scipy's regression, live, and by what a
permutation test must do: exact by enumeration, right false-alarm rate whatever the correlation.
"""

from __future__ import annotations

from itertools import permutations
from math import factorial

import numpy as np
import pytest
from scipy import stats

from analysis.change import change_over, log_p_loss, permuted_p, time_orders
from protocols.errors import InputError

AREA = "Statistics"
SOURCE = "O'Leary, Chauhan & Artes 2012, IOVS 53:6776"

TIMES = np.array([0.0, 0.5, 1.1, 1.4, 2.3])


def field(seed, visits=5, places=6, slope=0.0):
    noise = np.random.default_rng(seed).normal(0, 1, (visits, places))
    return 20 + noise + slope * TIMES[:visits, None]


def by_hand(times, levels):
    """S of every order with scipy's linregress, and the share at least as large as the first."""
    sums = [
        -sum(
            np.log(stats.linregress(order, levels[:, k], alternative="less").pvalue)
            for k in range(levels.shape[1])
        )
        for order in permutations(times)
    ]
    return np.mean(np.array(sums) >= sums[0] - 1e-9)


@pytest.mark.parametrize(("seed", "slope"), [(1, 0.0), (2, -0.7), (3, 0.7)])
def test_the_method_written_out_gives_the_same(truth, seed, slope):
    levels = field(seed, visits=4, places=5, slope=slope)
    found = change_over(TIMES[:4], levels, list(range(5)))
    assert found.exact
    assert found.arrangements == 24
    what = f"permutation p of {slope:g} dB a year, 4 visits, every order by scipy, seed {seed}"
    truth(f"{what}: loss", found.p_loss, by_hand(TIMES[:4], levels), 1e-9)
    truth(f"{what}: gain", found.p_gain, by_hand(TIMES[:4], -levels), 1e-9)


def test_one_sided_probabilities_are_scipys():
    levels = field(4)
    found = np.exp(-log_p_loss(TIMES[None], levels))[0]
    live = [stats.linregress(TIMES, y, alternative="less").pvalue for y in levels.T]
    assert found == pytest.approx(live)


def test_trends_are_scipys():
    levels = field(5)
    for k, trend in enumerate(change_over(TIMES, levels, list(range(6))).trends):
        live = stats.linregress(TIMES, levels[:, k])
        half = stats.t.ppf(0.975, 3) * live.stderr
        assert trend.db_per_year == pytest.approx(live.slope, abs=1e-4)
        assert trend.interval_db_per_year == pytest.approx(
            (live.slope - half, live.slope + half), abs=1e-4
        )
        assert trend.p == pytest.approx(live.pvalue, abs=1e-6)


def test_trends_are_those_of_statsmodels():
    from statsmodels.api import OLS, add_constant

    levels = field(6)
    trend = change_over(TIMES, levels, list(range(6))).trends[2]
    live = OLS(levels[:, 2], add_constant(TIMES)).fit()
    assert trend.db_per_year == pytest.approx(live.params[1], abs=1e-4)
    assert trend.interval_db_per_year == pytest.approx(tuple(live.conf_int()[1]), abs=1e-4)


@pytest.mark.parametrize("visits", [3, 4, 5, 6, 7])
def test_few_visits_are_enumerated(truth, visits):
    times = np.arange(visits) * 0.5
    levels = np.random.default_rng(visits).normal(0, 1, (visits, 4))
    found = change_over(times, levels, [0, 1, 2, 3])
    truth(f"orders enumerated for {visits} visits", found.arrangements, factorial(visits))
    assert found.least_p == 1 / factorial(visits)
    orders = found.p_loss * factorial(visits)
    assert orders == pytest.approx(round(orders))
    assert found.p_loss >= found.least_p


def test_a_steady_loss_of_every_place_has_the_least_p():
    levels = field(7, slope=-8.0)
    found = change_over(TIMES, levels, list(range(6)))
    assert found.p_loss == pytest.approx(1 / 120)
    assert found.p_gain == 1.0


def test_more_visits_are_drawn_and_the_observed_order_counts():
    times = np.arange(9.0)
    levels = np.random.default_rng(8).normal(0, 1, (9, 4)) - 2 * times[:, None]
    found = change_over(times, levels, [0, 1, 2, 3])
    assert (found.exact, found.arrangements) == (False, 5000)
    assert 0 < found.p_loss <= 0.001


def test_false_alarms_come_at_the_nominal_rate_though_places_go_together(truth):
    """2,000 series without change, places correlated 0.8: p <= 0.05 in 5 % (exact: 6 of 120)."""
    dice = np.random.default_rng(9)
    orders = time_orders(TIMES)
    alarms = []
    for _ in range(2000):
        shared = dice.normal(0, 2, (5, 1))
        alarms.append(permuted_p(orders, shared + dice.normal(0, 1, (5, 6))) <= 0.05 + 1e-12)
    print(f"false alarms at 5 %: {np.mean(alarms):.2%}")
    what = "false alarms at 5 % of 2,000 series without change, correlated places"
    truth(what, np.mean(alarms), 0.05, 4 * np.sqrt(0.05 * 0.95 / 2000))


def test_truncation_leaves_out_places_that_tell_nothing():
    """With a truncation of 5 % only places with p up to 0.05 are summed (Zaykin 2002)."""
    orders = time_orders(TIMES)
    levels = field(10)
    levels[:, 0] -= 3 * TIMES
    p = np.exp(-log_p_loss(orders, levels))
    sums = np.where(p <= 0.05, -np.log(p), 0.0).sum(axis=1)
    assert permuted_p(orders, levels, 0.05) == pytest.approx(np.mean(sums >= sums[0] - 1e-9))


def test_a_place_that_never_changed_says_nothing():
    levels = field(11)
    with_still = np.column_stack([levels, np.full(5, 3.0)])
    orders = time_orders(TIMES)
    assert permuted_p(orders, with_still) == permuted_p(orders, levels)
    trend = change_over(TIMES, with_still, list(range(7))).trends[6]
    assert (trend.db_per_year, trend.p) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("times", "said"),
    [([0.0, 1.0], "visits: got 2; allowed: 3 or more"), ([0.0, 1.0, 1.0], "opened at the same")],
)
def test_too_few_or_the_same_visits_are_refused(times, said):
    with pytest.raises(InputError, match=said):
        change_over(np.array(times), np.zeros((len(times), 3)), [0, 1, 2])
