"""Posteriors tell the truth: Bayes' rule by hand, intervals that cover, priors that do not trap."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from protocols.contracts.played import answers
from protocols.draws import Stream, uniform
from protocols.procedures.bayes import Bayes
from protocols.procedures.psychometric import seeing_probability
from protocols.procedures.quest_plus import QuestPlus
from protocols.procedures.settings import BayesSettings, QuestPlusSettings

EXAMS = 3000
SEEDS = np.arange(EXAMS) + 77
LIMIT_DB = 18.0
CENTRE_DB, SPREAD_DB = LIMIT_DB + 5.8, 3.0


def _measured(rule, truth_db, slips=0.03):
    """State at the end for one place of each exam, and the number of answers it took."""
    state, place = rule.start(np.full((EXAMS, 1), LIMIT_DB)), np.zeros(EXAMS, int)
    count = np.zeros(EXAMS)
    for step in range(400):
        going = ~rule.finished(state)[:, 0]
        if not going.any():
            break
        _, level = rule.propose(state, np.zeros(EXAMS), place)
        p = seeing_probability(level, truth_db, 1.5, slips, slips)
        seen = uniform(SEEDS, step, Stream.SEE) < p
        state = rule.update(state, np.where(going, 0, -1), level, seen)
        count += going
    return state, count


def test_one_answer_by_hand():
    """Prior times likelihood on the grid, written out with scipy's normal curve."""
    rule = Bayes(BayesSettings())
    state = rule.start(np.array([[LIMIT_DB]]))
    points = np.arange(40, -7, -1.0)
    bell = norm.pdf(points, CENTRE_DB, 3.0)
    prior = 0.7 * bell / bell.sum() + 0.3 / len(points)
    np.testing.assert_allclose(state.mass[0, 0], prior, atol=1e-12)
    told = rule.update(state, np.array([0]), np.array([25.0]), np.array([True]))
    posterior = prior * (0.03 + 0.94 * norm.cdf((points - 25) / 1.5))
    posterior /= posterior.sum()
    np.testing.assert_allclose(told.mass[0, 0], posterior, atol=1e-12)
    assert told.mean_db[0, 0] == pytest.approx(posterior @ np.maximum(points, 0))


def test_a_level_between_the_grids_is_taken_as_it_is():
    rule = Bayes(BayesSettings())
    state = rule.start(np.full((2, 1), LIMIT_DB))
    seen = np.array([True, False])
    off = rule.update(state, np.zeros(2, int), np.array([25.2, 25.2]), seen)
    points = np.arange(40, -7, -1.0)
    p = 0.03 + 0.94 * norm.cdf((points - 25.2) / 1.5)
    for row, like in ((0, p), (1, 1 - p)):
        expected = state.mass[0, 0] * like
        np.testing.assert_allclose(off.mass[row, 0], expected / expected.sum(), atol=1e-12)


@pytest.mark.parametrize("placement", ["mean", "mode", "entropy", "variance"])
def test_intervals_cover_what_they_say_where_the_prior_is_right(placement):
    """Truth drawn from the prior itself: 95 % within two points, five standard errors."""
    rule = Bayes(BayesSettings(placement=placement))
    dice = np.random.default_rng(4)
    flat = dice.random(EXAMS) < 0.3
    truth = np.where(
        flat, dice.uniform(-6.5, 40.5, EXAMS), dice.normal(CENTRE_DB, SPREAD_DB, EXAMS)
    )
    state, _ = _measured(rule, truth)
    low, high = rule.interval_db(state)
    felt = np.clip(truth, 0, 40)
    covered = float(((low[:, 0] <= felt) & (felt <= high[:, 0])).mean())
    print(f"{placement}: {covered:.3f} covered")
    assert covered == pytest.approx(0.955, abs=0.02)


@pytest.mark.parametrize("truth_db", [4.0, 12.0, 36.0])
def test_a_wrong_prior_does_not_trap_a_place(truth_db):
    """The prior is sure of 24 +- 1.5 dB: with its floor the truth is found, without it is not."""
    errors = {}
    for floor in (0.3, 0.01):
        settings = BayesSettings(prior_floor=floor, prior_sd_db=1.5, end_sd_db=1.5, most=30)
        state, _ = _measured(Bayes(settings), np.full(EXAMS, truth_db))
        errors[floor] = float(np.sqrt(((state.mean_db[:, 0] - truth_db) ** 2).mean()))
    print(f"truth {truth_db:g} dB: RMSE {errors[0.3]:.2f} dB, hardly a floor {errors[0.01]:.2f}")
    assert errors[0.3] < 3.0
    assert errors[0.01] > errors[0.3]


def test_a_smaller_end_takes_more_answers_and_errs_less():
    dice = np.random.default_rng(5)
    truth = dice.normal(CENTRE_DB, SPREAD_DB, EXAMS)
    found = []
    for end in (2.5, 1.5, 0.8):
        rule = Bayes(BayesSettings(end_sd_db=end, most=100))
        state, count = _measured(rule, truth)
        assert (state.sd_db <= end).all()
        found.append((count.mean(), ((state.mean_db[:, 0] - truth) ** 2).mean()))
    counts, errors = zip(*found, strict=True)
    assert counts[0] < counts[1] < counts[2]
    assert errors[0] > errors[1] > errors[2]


@pytest.mark.parametrize("true_spread_db", [1.0, 3.0])
def test_the_slope_is_learnt_with_the_threshold(true_spread_db):
    rule = QuestPlus(
        QuestPlusSettings(second_values=(0.75, 1.0, 1.5, 2.0, 3.0, 4.5), end_sd_db=0.05, most=200)
    )
    exams, truth = 200, np.full(200, 24.0)
    state, place = rule.start(np.full((exams, 1), LIMIT_DB)), np.zeros(exams, int)
    for step in range(200):
        _, level = rule.propose(state, np.zeros(exams), place)
        p = seeing_probability(level, truth, true_spread_db, 0.03, 0.03)
        state = rule.update(state, place, level, uniform(SEEDS[:exams], step, Stream.SEE) < p)
    slope, _ = rule.second(state)
    print(f"spread {true_spread_db:g} dB: {slope.mean():.2f} dB found")
    assert slope.mean() == pytest.approx(true_spread_db, rel=0.2)
    assert state.mean_db.mean() == pytest.approx(24.0, abs=0.15)


def test_the_lapse_rate_is_learnt_with_the_threshold():
    rule = QuestPlus(
        QuestPlusSettings(
            second="lapse", second_values=(0.01, 0.1, 0.2, 0.3), end_sd_db=0.05, most=150
        )
    )
    found = []
    for lapse in (0.01, 0.3):
        exams = 200
        state, place = rule.start(np.full((exams, 1), LIMIT_DB)), np.zeros(exams, int)
        for step in range(150):
            _, level = rule.propose(state, np.zeros(exams), place)
            p = seeing_probability(level, 24.0, 1.5, 0.03, lapse)
            state = rule.update(state, place, level, uniform(SEEDS[:exams], step, Stream.SEE) < p)
        found.append(float(rule.second(state)[0].mean()))
    print(f"lapse rates 0.01 and 0.3: {found[0]:.3f} and {found[1]:.3f} found")
    assert found[0] < 0.08
    assert found[1] > 0.22


def test_several_places_are_kept_apart():
    """An answer at one place leaves the others' posteriors as they were."""
    rule = QuestPlus(QuestPlusSettings())
    state = rule.start(np.full((4, 5), LIMIT_DB))
    place = np.array([0, 1, 2, 3])
    seen = answers(np.full((4, 5), 24.0), np.arange(4), 0, place, np.full(4, 20.0))
    told = rule.update(state, place, np.full(4, 20.0), seen)
    changed = (told.mass != state.mass).any(axis=-1)
    assert np.array_equal(changed, np.arange(5) == place[:, None])
