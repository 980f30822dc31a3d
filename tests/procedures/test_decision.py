"""The sequential screening test: what it asks, what it decides, and how often it errs."""

from __future__ import annotations

import numpy as np
import pytest

from protocols.draws import Stream, uniform
from protocols.procedures.decision import Decision
from protocols.procedures.settings import DecisionSettings

EXAMS, PLACES = 1500, 4
LIMIT_DB = 18.3
SEED = 4021


def decided(settings: DecisionSettings, seed: int = SEED):
    """Truths drawn from the very prior the test weighs its classes by, verdicts and answers."""
    rule = Decision(settings)
    limits = np.full((EXAMS, PLACES), LIMIT_DB)
    state = rule.start(limits)
    dice = np.random.default_rng(seed)
    points = dice.choice(len(rule.grid.sensitivity_db), limits.shape, p=state.mass[0, 0])
    truth = rule.grid.sensitivity_db[points]
    within = dice.random(limits.shape) < rule._within(limits)[0, 0][points]
    seeds, last = np.arange(EXAMS) + seed, np.full(EXAMS, -1)
    for step in range(PLACES * settings.most):
        open_exams = ~rule.finished(state).all(axis=-1)
        if not open_exams.any():
            break
        place, level = rule.propose(state, uniform(seeds, step, Stream.PLACE), last)
        row = np.arange(EXAMS)
        seen = answers_as_assumed(rule, truth[row, place], seeds, step, level)
        state = rule.update(state, np.where(open_exams, place, -1), level, seen)
        last = place
    return state, within


def answers_as_assumed(rule, truth, seeds, step, level):
    """Answers by the seeing curve the procedure assumes."""
    from protocols.procedures.psychometric import seeing_probability

    p = seeing_probability(level, truth, 1.5, 0.03, 0.03)
    return uniform(seeds, step, Stream.SEE) < p


def error_rates(state, within):
    lost_of_within = float((state.verdict == -1)[within].mean())
    kept_of_lost = float((state.verdict == 1)[~within].mean())
    return lost_of_within, kept_of_lost


def test_without_a_greatest_number_it_errs_no_more_than_wald_bounds():
    """Wald 1945: at most alpha / (1 - beta) and beta / (1 - alpha), on average over the prior."""
    settings = DecisionSettings(false_loss_rate=0.05, missed_loss_rate=0.1, most=200)
    state, within = decided(settings)
    false_loss, missed = error_rates(state, within)
    noise = 2 * np.sqrt(0.1 * 0.9 / min(within.sum(), (~within).sum()))
    print(f"within called lost {false_loss:.4f}, lost missed {missed:.4f}")
    assert false_loss <= 0.05 / 0.9 + noise
    assert missed <= 0.1 / 0.95 + noise
    assert false_loss > 0
    assert missed > 0


def test_stricter_rates_cost_more_answers_and_err_less():
    loose, within = decided(DecisionSettings(false_loss_rate=0.1, missed_loss_rate=0.1, most=60))
    strict, same = decided(DecisionSettings(false_loss_rate=0.01, missed_loss_rate=0.01, most=60))
    assert np.array_equal(within, same)
    assert strict.answers.mean() > loose.answers.mean()
    assert sum(error_rates(strict, within)) < sum(error_rates(loose, within))


def test_the_bundled_rates_take_about_two_answers_where_all_is_well():
    state, within = decided(DecisionSettings())
    clear = within & (state.verdict == 1)
    print(f"answers a place within: {state.answers[clear].mean():.2f}")
    assert 1.0 < state.answers[clear].mean() < 2.5
    assert (state.verdict[within] != -1).mean() > 0.95


def test_what_an_answer_tells_of_the_class_is_that_of_a_table_of_all_outcomes():
    rule = Decision(DecisionSettings(grid_step_db=2.0))
    state = rule.start(np.array([[15.0, 21.4]]))
    mass, limits = state.mass[0], state.limits_db[0]
    told = rule.class_information(mass, limits)
    for place in range(2):
        inside = rule._within(limits)[place]
        for number, chance in enumerate(rule.grid.chances):
            joint = np.array(
                [
                    [(mass[place] * w * p).sum() for p in (chance, 1 - chance)]
                    for w in (inside, 1 - inside)
                ]
            )
            apart = np.outer(joint.sum(axis=1), joint.sum(axis=0))
            assert told[place, number] == pytest.approx((joint * np.log(joint / apart)).sum())


def test_it_asks_near_the_limit_and_not_at_the_likely_threshold():
    rule = Decision(DecisionSettings())
    state = rule.start(np.full((1, PLACES), LIMIT_DB))
    _, level = rule.propose(state, np.array([0.3]), np.array([-1]))
    assert LIMIT_DB - 6 < level[0] <= LIMIT_DB + 1


def test_a_slip_is_asked_again():
    """One unseen answer at the first level does not yet call a place lost."""
    rule = Decision(DecisionSettings())
    state = rule.start(np.full((1, PLACES), LIMIT_DB))
    place, level = rule.propose(state, np.array([0.3]), np.array([-1]))
    state = rule.update(state, place, level, np.array([False]))
    assert state.verdict[0, place[0]] == 0
    assert not rule.finished(state)[0, place[0]]


