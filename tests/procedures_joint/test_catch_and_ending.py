"""Catch trials tell what answers are worth; places and exams end by a rule that says its name."""

from __future__ import annotations

import numpy as np
from joint_rigs import HEALTHY_DB, LIMIT_DB, asked, joint, limits, sharp_exams

from protocols.catch import BLANK, BLIND_SPOT, FULL_CONTRAST
from protocols.procedures.joint.attention import FALSE_PRESS_RATES, LAPSE_RATES
from protocols.procedures.joint.ending import grade_chances
from protocols.procedures.joint.marginals import interval_db, quantile_db
from protocols.procedures.joint.scale import GRID_DB, STEP_DB


def caught(procedure, state, role, seen, times=3):
    for _ in range(times):
        state = procedure.heed(state, np.array([role]), np.array([seen]))
    return state


def rates(state):
    return state.shares[0] @ FALSE_PRESS_RATES, state.shares[0] @ LAPSE_RATES


def test_presses_on_blanks_raise_the_false_press_rate_alone():
    procedure = joint()
    start = procedure.start(limits(1))
    false, lapse = rates(start)
    pressed = rates(caught(procedure, start, BLANK, True))
    calm = rates(caught(procedure, start, BLANK, False))
    assert pressed[0] > 0.15
    assert calm[0] < false
    missed = rates(caught(procedure, start, FULL_CONTRAST, False))
    assert missed[1] > 2 * lapse


def test_shares_follow_bayes_on_the_kinds():
    procedure = joint()
    start = procedure.start(limits(1))
    after = caught(procedure, start, BLANK, True, times=1).shares[0]
    expected = start.shares[0] * FALSE_PRESS_RATES
    assert np.allclose(after, expected / expected.sum())


def test_the_blind_spot_tells_of_fixation_not_of_attention():
    procedure = joint()
    start = procedure.start(limits(1))
    assert caught(procedure, start, BLIND_SPOT, True) is start


def test_presses_at_nothing_take_trust_from_what_was_seen_before():
    """A place unseen twice and then seen: the press is worth less if blanks are pressed at."""
    procedure = joint()
    state = procedure.start(limits(1))
    for level, seen in ((15.0, False), (9.0, False), (13.5, True)):
        state = asked(procedure, state, 4, level, seen)
    before = procedure.estimate(state).mean_db[0, 4]
    after = procedure.estimate(caught(procedure, state, BLANK, True)).mean_db[0, 4]
    assert after < before - 0.5


def test_one_who_presses_at_nothing_is_asked_for_longer():
    truth = np.full((1, 19), HEALTHY_DB)

    class Suspicious:
        """The procedure after two presses on blanks at the very start."""

        def __init__(self):
            self.inner = joint()

        def start(self, limits_db):
            return caught(self.inner, self.inner.start(limits_db), BLANK, True, times=2)

        def __getattr__(self, name):
            return getattr(self.inner, name)

    _, plain = sharp_exams(joint(), truth)
    _, longer = sharp_exams(Suspicious(), truth)
    assert longer[0] >= plain[0] + 10


def test_an_exam_ends_narrow_with_every_place_looked_at():
    procedure = joint()
    state, presentations = sharp_exams(procedure, np.full((2, 19), HEALTHY_DB))
    assert procedure.stop_reason(state) == ["narrow", "narrow"]
    assert (state.answers.looks >= 1).all()
    assert np.sqrt(state.wary_variance).max() <= 2.65 + 0.5  # may have grown after a place ended
    assert list(procedure.left(state)) == [0, 0]
    assert np.array_equal(state.answers.looks.sum(axis=1), presentations)


def test_a_place_ends_at_the_latest_when_its_answers_are_spent():
    procedure = joint(most=2, sd_db=0.5)
    state, presentations = sharp_exams(procedure, np.full((1, 19), HEALTHY_DB))
    assert presentations[0] == 2 * 19
    assert (state.answers.looks == 2).all()
    assert procedure.stop_reason(state) == ["count"]


def test_what_is_left_is_a_look_at_each_place_and_never_more_than_comes():
    procedure = joint()
    state = procedure.start(limits(1))
    assert procedure.left(state)[0] == 19
    assert procedure.stop_reason(state) == ["open"]
    state = asked(procedure, state, 0, 9.0, False)
    assert procedure.left(state)[0] == 18
    for place in range(1, 19):
        state = asked(procedure, state, place, 21.0, True)
    assert not procedure.finished(state)[0, 0]
    assert procedure.left(state)[0] == 1


def test_what_has_ended_stays_ended_until_a_blank_is_pressed_at():
    procedure = joint()
    state, _ = sharp_exams(procedure, np.full((1, 19), HEALTHY_DB))
    for place in range(19):
        again = asked(procedure, state, place, 24.0, False)
        assert procedure.finished(again).all()
    assert procedure.finished(caught(procedure, state, BLANK, False)).all()
    assert not procedure.finished(caught(procedure, state, BLANK, True)).all()


def test_certain_grades_end_an_exam_sooner_and_say_so():
    strict, graded = joint(sd_db=1.5), joint(sd_db=1.5, grade_certainty=0.95)
    truth = np.full((1, 19), HEALTHY_DB + 3.0)
    _, long = sharp_exams(strict, truth)
    state, short = sharp_exams(graded, truth)
    assert graded.stop_reason(state) == ["graded"]
    assert short[0] < long[0]
    assert (grade_chances(state.mass, state.limits_db).argmax(axis=-1) == 0).all()


def test_grades_share_out_all_probability_as_the_limit_says():
    mass = np.zeros((1, 5, len(GRID_DB)))
    for place, level in enumerate((24.0, 16.5, 12.0, 4.5, -4.5)):
        mass[0, place, np.argmin(np.abs(GRID_DB - level))] = 1.0
    chances = grade_chances(mass, np.full((1, 5), LIMIT_DB))
    assert np.allclose(chances.sum(axis=-1), 1.0)
    assert list(chances.argmax(axis=-1)[0]) == [0, 1, 2, 3, 4]


def test_quantiles_of_an_even_spread():
    mass = np.full((1, 1, len(GRID_DB)), 1 / len(GRID_DB))
    width = len(GRID_DB) * STEP_DB
    for share in (0.1, 0.5, 0.975):
        expected = GRID_DB[0] - STEP_DB / 2 + share * width
        assert abs(quantile_db(mass, share)[0, 0] - expected) < 1e-9


def test_an_interval_that_passes_full_contrast_is_open_downwards():
    mass = np.zeros((1, 2, len(GRID_DB)))
    mass[0, 0, np.isin(GRID_DB, (-1.5, 0.0, 1.5))] = 1 / 3
    mass[0, 1, np.isin(GRID_DB, (6.0, 7.5, 9.0))] = 1 / 3
    low, high = interval_db(mass, 0.95)
    assert low[0, 0] == GRID_DB[0] - STEP_DB / 2
    assert 5.0 < low[0, 1] < 6.0 < 9.0 < high[0, 1] < 10.0
