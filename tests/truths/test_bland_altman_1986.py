"""Bland & Altman 1986, Lancet i:307: peak flow of 17 people by two meters.

The pairs are from memory (first readings, l/min); the two published figures they must give, mean
difference -2.1176 and SD 38.7651, verify them. Intervals as in the paper, which takes limits at
2 SD: mean -22.0 to 17.8, lower limit -79.7 (-114.3 to -45.1), upper 75.5 (40.9 to 110.1), rounded
there from a mean of -2.1, an SD of 38.8 and t of 2.12.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.agreement import bland_altman
from protocols.errors import InputError

AREA = "Statistics"
SOURCE = "Bland & Altman 1986, Lancet i:307 (readings from memory)"

LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_mean_difference_and_sd(truth):
    found = bland_altman(LARGE, MINI)
    assert found.pairs == 17
    truth("peak flow by two meters: mean difference, l/min", found.mean, -2.1176, 5e-5)
    truth("peak flow by two meters: SD of the differences, l/min", found.sd, 38.7651, 5e-5)


def test_limits_and_intervals_of_the_paper(truth):
    """The paper rounds before it multiplies: 0.2 l/min."""
    found = bland_altman(LARGE, MINI, sds=2.0)
    truth("limits of agreement at 2 SD, l/min", (found.low, found.high), (-79.7, 75.5), 0.2)
    truth("interval of the mean difference, l/min", found.mean_interval, (-22.0, 17.8), 0.2)
    truth("interval of the lower limit, l/min", found.low_interval, (-114.3, -45.1), 0.2)
    truth("interval of the upper limit, l/min", found.high_interval, (40.9, 110.1), 0.2)


def test_the_interval_of_the_mean_is_scipys():
    """scipy's paired t interval, live."""
    found = bland_altman(LARGE, MINI)
    live = stats.ttest_rel(LARGE, MINI).confidence_interval()
    assert found.mean_interval == pytest.approx((live.low, live.high))


def test_the_difference_does_not_grow_with_the_mean():
    """The paper sees no relation; scipy's regression, live."""
    found = bland_altman(LARGE, MINI)
    pairs = np.array([LARGE, MINI], float)
    live = stats.linregress(pairs.mean(axis=0), pairs[0] - pairs[1])
    assert (found.slope, found.slope_p) == pytest.approx((live.slope, live.pvalue))
    assert found.slope_p > 0.5


def test_limits_hold_95_of_100_new_pairs():
    dice = np.random.default_rng(2)
    first, second = dice.normal(20, 3, (2, 100_000))
    found = bland_altman(first, second)
    new = np.subtract(*dice.normal(20, 3, (2, 100_000)))
    assert np.mean((new > found.low) & (new < found.high)) == pytest.approx(0.95, abs=0.004)


def test_two_pairs_are_refused():
    with pytest.raises(InputError, match="pairs: got 2; allowed: 3 or more"):
        bland_altman([1, 2], [2, 3])


def test_a_measurement_without_its_pair_is_refused():
    with pytest.raises(InputError, match=r"pairs: got .*1 with a value that is no number"):
        bland_altman([1, 2, 3, float("nan")], [2, 3, 5, 4])
    with pytest.raises(InputError, match=r"pairs: got .*4 and 1 measurements"):
        bland_altman([1, 2, 3, 4], [2])
