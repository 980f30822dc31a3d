"""Wald 1945, Annals of Mathematical Statistics 16:117: bounds of the sequential test.

ln A = ln((1 - beta) / alpha) = 2.944439 at alpha = beta = 0.05. Wald's inequality: the chance that
the likelihood ratio ever reaches A under the first hypothesis is at most 1 / A, checked here by
simulation with a walk of our own.
"""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from protocols.verdict import BADLY, CAREFUL, upper_bound

AREA = "Statistics"
SOURCE = "Wald 1945, Ann Math Stat 16:117"


def test_the_bound_at_five_percent(truth):
    truth("ln A at alpha = beta = .05", upper_bound(0.05, 0.05), 2.944439, 5e-7)
    assert upper_bound() == upper_bound(0.05, 0.05)


@pytest.mark.parametrize(("alpha", "beta"), [(0.01, 0.05), (0.1, 0.2), (0.001, 0.5)])
def test_the_bound_follows_the_formula(alpha, beta):
    assert upper_bound(alpha, beta) == pytest.approx(log(1 - beta) - log(alpha))


def test_the_chance_of_ever_crossing_keeps_walds_inequality(truth):
    """Plain sequential test of presses at nothing, 400 steps, no new beginnings."""
    good, bad = CAREFUL.presses, BADLY.presses
    slips = np.random.default_rng(31).random((4000, 400)) < good
    steps = np.where(slips, log(bad / good), log((1 - bad) / (1 - good)))
    crossed = (steps.cumsum(axis=1) >= upper_bound()).any(axis=1).mean()
    print(f"crossed in {crossed:.2%} of 4000 walks; Wald's limit {np.exp(-upper_bound()):.2%}")
    assert crossed > 0
    truth.inside("share of walks that ever cross ln A", crossed, 0, np.exp(-upper_bound()))
