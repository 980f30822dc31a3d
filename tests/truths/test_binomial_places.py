"""False alarms over many places: how many places below their limit chance alone gives.

At p <= 5 % a place, a count of 7 of 54, 4 of 24 or 3 of 16 places is the least that fewer than 5 %
of fields without loss reach under independence; at p <= 1 % a place 3, 2 and 2. Computed from the
binomial distribution, term by term here, by scipy in the package. The bench uses this rule as a
rival of the whole-field test.
"""

from __future__ import annotations

from math import comb

import numpy as np
import pytest

from analysis.indices.counting import least_unusual_count

AREA = "Statistics"
SOURCE = "Binomial distribution, computed term by term"

ROWS = [
    (54, 0.05, 7), (24, 0.05, 4), (16, 0.05, 3), (54, 0.01, 3), (24, 0.01, 2), (16, 0.01, 2),
]  # fmt: skip


def _at_least(count, places, share):
    return sum(
        comb(places, k) * share**k * (1 - share) ** (places - k) for k in range(count, places + 1)
    )


@pytest.mark.parametrize(("places", "share", "count"), ROWS)
def test_counts(truth, places, share, count):
    what = f"least unusual count of {places} places at p <= {share:g} a place"
    truth(what, least_unusual_count(places, share), count)
    assert _at_least(count, places, share) <= 0.05 < _at_least(count - 1, places, share)


def test_independent_places_keep_the_rate():
    """4 of 19 at 5 %: 1.3 % by the formula, and in a million places drawn apart."""
    drawn = np.random.default_rng(3).random((60_000, 19)) < 0.05
    rate = (drawn.sum(axis=1) >= least_unusual_count(19, 0.05)).mean()
    assert rate == pytest.approx(_at_least(4, 19, 0.05), abs=0.0015)
