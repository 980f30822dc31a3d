"""The best any placement can do: Taylor 1971, J Acoust Soc Am 49:505.

For a cumulative Gaussian of spread s, n answers leave a variance of at least (pi/2) s**2 / n. With
3 % false presses and 3 % lapses the same reckoning gives 1.7777 (computed from the formula).
"""

from __future__ import annotations

import numpy as np
import pytest

from protocols.draws import Stream, uniform
from protocols.procedures.bayes import Bayes
from protocols.procedures.psychometric import information, seeing_probability
from protocols.procedures.settings import BayesSettings

AREA = "Procedures"
SOURCE = "Taylor 1971, J Acoust Soc Am 49:505; with slips computed from its formula"

CASES = [(0.0, 1.5708), (0.03, 1.7777)]
SPREAD_DB = 2.0
ANSWERS, EXAMS = 150, 1500


@pytest.mark.parametrize(("slips", "published"), CASES)
def test_the_least_variance_is_the_published_one(truth, slips, published):
    above = np.linspace(-8, 8, 4001)
    best = information(above, SPREAD_DB, slips, slips).max()
    what = f"least variance n / spread^2 at {slips:.0%} slips"
    truth(what, 1 / best / SPREAD_DB**2, published, 1e-4)
    if not slips:
        assert published == pytest.approx(np.pi / 2, abs=1e-4)


@pytest.mark.parametrize("placement", ["mean", "mode", "entropy", "variance"])
@pytest.mark.parametrize(("slips", "published"), CASES)
def test_our_placements_come_close_and_never_beat_it(truth, slips, published, placement):
    """Bounds: the first answers are spent on finding the place, so up to 20 % above; no prior

    worth speaking of, so not below by more than the error of the variance over the exams (2.6 %).
    """
    rule = Bayes(
        BayesSettings(
            placement=placement, spread_db=SPREAD_DB, grid_step_db=0.25, prior_floor=1.0,
            false_press_rate=max(slips, 0.001), lapse_rate=max(slips, 0.001),
            end_sd_db=0.05, most=1000,
        )
    )  # fmt: skip
    true_db = np.random.default_rng(3).uniform(19, 21, EXAMS)
    state, place = rule.start(np.full((EXAMS, 1), 14.0)), np.zeros(EXAMS, int)
    for step in range(ANSWERS):
        _, level = rule.propose(state, np.zeros(EXAMS), place)
        p = seeing_probability(level, true_db, SPREAD_DB, slips, slips)
        seen = uniform(np.arange(EXAMS), step, Stream.SEE) < p
        state = rule.update(state, place, level, seen)
    error = state.mean_db[:, 0] - true_db
    found = float((error**2).mean()) * ANSWERS / SPREAD_DB**2
    print(f"{placement}, slips {slips}: {found:.3f}, least possible {published}")
    what = f"variance n / spread^2 placed by {placement}, {slips:.0%} slips, {ANSWERS} answers"
    truth.inside(what, found, published * (1 - 3 * np.sqrt(2 / EXAMS)), 1.2 * published)
