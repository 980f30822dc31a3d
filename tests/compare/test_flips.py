"""The sign-flip test against scipy's exact permutation test, live, and its false-alarm rate."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.flips import DRAWN, sign_flip


@pytest.mark.parametrize("seed", range(4))
def test_scipys_exact_test_gives_the_same(seed):
    values = np.random.default_rng(seed).normal(0.5, 1, 9)
    found = sign_flip(values)
    assert found.exact
    for p, side in ((found.p, "two-sided"), (found.p_up, "greater")):
        live = stats.permutation_test(
            (values,), np.mean, permutation_type="samples", n_resamples=np.inf, alternative=side
        )
        assert p == pytest.approx(live.pvalue)


def test_nineteen_pairs_are_all_enumerated():
    found = sign_flip(np.full(19, 1.0))
    assert (found.arrangements, found.p) == (2**19, 2 / 2**19)


def test_many_are_drawn_and_the_observed_signs_count():
    found = sign_flip(np.full(40, 1.0))
    assert (found.exact, found.arrangements) == (False, DRAWN + 1)
    assert found.p == pytest.approx(1 / (DRAWN + 1))


def test_no_difference_is_no_evidence():
    assert sign_flip(np.zeros(8)).p == 1.0


def test_false_alarms_stay_at_the_nominal_rate():
    """4,000 sets of 10 heavy-tailed differences about 0; at most 5 % within 4 standard errors."""
    dice = np.random.default_rng(7)
    alarms = np.mean([sign_flip(dice.standard_t(3, 10)).p <= 0.05 for _ in range(4000)])
    print(f"false alarms {alarms:.2%}")
    assert alarms == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 4000) + 1 / 1024)
