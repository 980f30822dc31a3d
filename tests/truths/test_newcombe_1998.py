"""Newcombe 1998, Statistics in Medicine 17:857, table of intervals, row "Wilson" (score).

95 % intervals for 81/263, 15/148, 0/20 and 1/29, to the digits printed there (four; the six used
here follow from the score formula, which the second test writes out).
"""

from __future__ import annotations

from math import sqrt

import pytest
from scipy.stats import norm

from analysis.reliability import rate

AREA = "Statistics"
SOURCE = "Newcombe 1998, Stat Med 17:857 (Wilson row)"

WILSON = [
    (81, 263, 0.255289, 0.366210),
    (15, 148, 0.062386, 0.160487),
    (0, 20, 0.0, 0.161125),
    (1, 29, 0.006113, 0.171755),
]


@pytest.mark.parametrize(("wrong", "shown", "low", "high"), WILSON)
def test_wilson_interval(truth, wrong, shown, low, high):
    found = rate(wrong, shown)
    truth(f"95 % interval of {wrong} of {shown}", found.interval, (low, high), 5e-7)
    assert found.rate == wrong / shown


@pytest.mark.parametrize(("wrong", "shown", "low", "high"), WILSON)
def test_the_printed_numbers_follow_from_the_score_formula(wrong, shown, low, high):
    z, p = norm.ppf(0.975), wrong / shown
    middle = (p + z**2 / (2 * shown)) / (1 + z**2 / shown)
    half = z / (1 + z**2 / shown) * sqrt(p * (1 - p) / shown + z**2 / (4 * shown**2))
    assert (middle - half, middle + half) == pytest.approx((low, high), abs=5e-7)
