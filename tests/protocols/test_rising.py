"""The rising procedure, alone and on arrays of exams."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocols.procedures.rising import UPPER_DB, Rising
from protocols.procedures.settings import RisingSettings

THREE = Rising(RisingSettings(tries=3, step_db=4.0))


def _answered(procedure, limit_db, answers):
    """State of one place after answers, each at the level the procedure proposed."""
    state = procedure.start(np.array([[limit_db]]))
    levels = []
    for seen in answers:
        place, level = procedure.propose(state, np.array([0.5]), np.array([-1]))
        levels.append(float(level[0]))
        state = procedure.update(state, place, level, np.array([seen]))
    return state, levels


@pytest.mark.parametrize(
    ("tries", "step_db", "limit_db", "levels"),
    [
        (3, 4.0, 22.0, [22.0, 18.0, 0.0]),
        (3, 6.0, 22.0, [22.0, 16.0, 0.0]),
        (2, 4.0, 22.0, [22.0, 0.0]),
        (1, 4.0, 22.0, [0.0]),
        (3, 10.0, 7.0, [7.0, 0.0, 0.0]),
    ],
)
def test_levels_rise_in_contrast_and_end_at_full(tries, step_db, limit_db, levels):
    procedure = Rising(RisingSettings(tries=tries, step_db=step_db))
    assert _answered(procedure, limit_db, [False] * tries)[1] == levels


@pytest.mark.parametrize(
    ("answers", "finished"),
    [([], False), ([False], False), ([False, False], False), ([False] * 3, True), ([True], True),
     ([False, True], True), ([False, False, True], True)],
)  # fmt: skip
def test_a_place_is_finished_once_seen_or_after_the_last_try(answers, finished):
    state, _ = _answered(THREE, 20.0, answers)
    assert bool(THREE.finished(state)[0, 0]) == finished


@pytest.mark.parametrize(
    ("answers", "low", "high"),
    [
        ([], 0.0, UPPER_DB),
        ([True], 20.0, UPPER_DB),
        ([False], 0.0, 20.0),
        ([False, True], 16.0, 20.0),
        ([False, False], 0.0, 16.0),
        ([False, False, True], 0.0, 16.0),
        ([False, False, False], 0.0, 0.0),
    ],
)
def test_the_estimate_is_the_middle_of_what_the_tries_leave_open(answers, low, high):
    state, _ = _answered(THREE, 20.0, answers)
    mean_db, sd_db, _ = THREE.estimate(state)
    assert mean_db[0, 0] == pytest.approx((low + high) / 2)
    assert sd_db[0, 0] == pytest.approx((high - low) / np.sqrt(12))


@given(st.integers(0, 2**32 - 1), st.integers(2, 30))
def test_many_exams_at_once_are_many_exams_alone(seed, exams):
    """Leading axis is the exam: rows never touch each other."""
    rng = np.random.default_rng(seed)
    limits = rng.uniform(0, 30, (exams, 5))
    together, alone = THREE.start(limits), [THREE.start(row[None]) for row in limits]
    last = np.full(exams, -1)
    for _ in range(6):
        u, seen = rng.random(exams), rng.random(exams) < 0.5
        place, level = THREE.propose(together, u, last)
        for n in range(exams):
            p, v = THREE.propose(alone[n], u[n : n + 1], last[n : n + 1])
            assert (p[0], v[0]) == (place[n], level[n])
            alone[n] = THREE.update(alone[n], p, v, seen[n : n + 1])
        together, last = THREE.update(together, place, level, seen), place
    assert np.array_equal(together.tries, np.concatenate([one.tries for one in alone]))
    assert np.array_equal(together.seen, np.concatenate([one.seen for one in alone]))


def test_an_update_leaves_the_old_state_alone():
    """State in, state out: a hold can go back to it."""
    state = THREE.start(np.array([[20.0, 20.0]]))
    THREE.update(state, np.array([1]), np.array([20.0]), np.array([True]))
    assert not state.tries.any()
    assert not state.seen.any()


def test_the_place_shown_last_waits_while_another_is_open():
    state = THREE.start(np.full((1, 2), 20.0))
    for u in np.linspace(0, 0.999, 20):
        assert THREE.propose(state, np.array([u]), np.array([0]))[0][0] == 1


def test_the_last_open_place_may_follow_itself():
    state = THREE.start(np.full((1, 2), 20.0))
    state = THREE.update(state, np.array([1]), np.array([20.0]), np.array([True]))
    assert THREE.propose(state, np.array([0.3]), np.array([0]))[0][0] == 0
