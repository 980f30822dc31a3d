"""One exam and many run the same code: what a row gets does not depend on the rows beside it."""

from __future__ import annotations

from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from joint_rigs import PATTERN, joint, limits

from protocols.catch import BLANK, FULL_CONTRAST, PLACE
from protocols.errors import InputError
from protocols.procedures.rows import rows_of, with_rows

EXAMS = 23


def arrays(state):
    for field in fields(state):
        value = getattr(state, field.name)
        yield from arrays(value) if is_dataclass(value) else [(field.name, value)]


def same(one, other):
    return all(
        np.array_equal(a, b) for (_, a), (_, b) in zip(arrays(one), arrays(other), strict=True)
    )


def played(rows, presentations=25):
    """Exams with answers and catch trials by the row's own draws; what was shown, and the state."""
    procedure, last, shown = joint(), np.full(len(rows), -1), []
    draws = np.random.default_rng(4).random((presentations, EXAMS, 3))[:, rows]
    state = procedure.start(limits(EXAMS)[rows] - np.arange(EXAMS)[rows, None] / 10)
    for u in draws:
        place, level = procedure.propose(state, u[:, 0], last)
        answering = np.where(u[:, 2] < 0.8, place, -1)
        state = procedure.update(state, answering, level, u[:, 1] < 0.6)
        role = np.where(u[:, 2] < 0.8, PLACE, np.where(u[:, 2] < 0.9, BLANK, FULL_CONTRAST))
        state = procedure.heed(state, role, u[:, 1] < 0.5)
        shown.append((place, level))
        last = place
    return np.array(shown), state


def test_rows_alone_are_rows_together_to_the_last_bit():
    shown, state = played(np.arange(EXAMS))
    for rows in ([0], [7], [22], [3, 11, 12]):
        alone, alone_state = played(np.array(rows))
        assert np.array_equal(alone, shown[:, :, rows])
        assert same(alone_state, rows_of(state, np.array(rows)))


def test_the_same_answers_give_the_same_state():
    assert same(played(np.arange(5))[1], played(np.arange(5))[1])


def test_nothing_handed_in_is_changed():
    procedure = joint()
    state = procedure.start(limits(3))
    kept = {name: value.copy() for name, value in arrays(state)}
    place, level = procedure.propose(state, np.array([0.1, 0.5, 0.9]), np.array([-1, -1, -1]))
    seen = np.array([True, False, True])
    procedure.update(state, place, level, seen)
    procedure.heed(state, np.array([BLANK, FULL_CONTRAST, PLACE]), seen)
    assert all(np.array_equal(kept[name], value) for name, value in arrays(state))


def test_exams_without_an_answer_stay_as_they_are():
    procedure = joint()
    before = procedure.start(limits(3))
    after = procedure.update(
        before, np.array([-1, 4, -1]), np.array([0.0, 15.0, 0.0]), np.array([True, False, False])
    )
    rows = np.array([0, 2])
    assert same(rows_of(before, rows), rows_of(after, rows))
    assert after.answers.looks[1].sum() == 1


def test_rows_put_back_are_there():
    procedure = joint()
    state = procedure.start(limits(4))
    other = procedure.update(
        rows_of(state, np.array([2])), np.array([0]), np.array([12.0]), np.array([False])
    )
    whole = with_rows(state, np.array([2]), other)
    assert same(rows_of(whole, np.array([2])), other)
    assert same(rows_of(whole, np.array([0, 1, 3])), rows_of(state, np.array([0, 1, 3])))


def test_levels_proposed_can_be_shown_and_places_do_not_repeat():
    shown, _ = played(np.arange(EXAMS))
    places, levels = shown[:, 0], shown[:, 1]
    assert levels.min() >= 0.0
    assert levels.max() <= 40.0
    assert set(np.unique(places)) <= set(range(len(PATTERN.places)))
    assert np.all(places[1:] != places[:-1])


@pytest.mark.parametrize("wrong", [np.full(19, 18.0), np.zeros((0, 19)), np.full((2, 19), np.nan)])
def test_limits_of_another_shape_are_refused(wrong):
    with pytest.raises(InputError, match="limits_db"):
        joint().start(wrong)


def test_answers_of_another_number_of_exams_are_refused():
    procedure = joint()
    state = procedure.start(limits(2))
    with pytest.raises(InputError, match="level_db"):
        procedure.update(state, np.zeros(2, int), np.zeros(3), np.zeros(2, bool))
