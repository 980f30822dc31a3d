"""One contract for every procedure: listed once in `rigs.SETTINGS`, held to all of this."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
from rigs import PLACES, SETTINGS, limits_of, procedure, run, truth_of

from protocols.errors import InputError
from protocols.procedures.range import FULL_DB, UPPER_DB

EXAMS = 37
SEEDS = np.arange(EXAMS) + 11
EVERY = pytest.mark.parametrize("name", SETTINGS)


@pytest.fixture(scope="module")
def runs():
    limits = limits_of(EXAMS)
    truth = truth_of(limits)
    return {name: run(name, limits, truth, SEEDS) for name in SETTINGS}


def arrays(state, prefix=""):
    """Every array of a state by name, those of states within it too."""
    for field in dataclasses.fields(state):
        value, name = getattr(state, field.name), f"{prefix}{field.name}"
        if dataclasses.is_dataclass(value):
            yield from arrays(value, f"{name}.")
        else:
            yield name, value


def _same(one, other, rows):
    others = dict(arrays(other))
    for name, value in arrays(one):
        np.testing.assert_array_equal(value[rows], others[name], err_msg=name)


@EVERY
def test_a_row_alone_gets_to_the_last_bit_what_it_gets_among_others(name, runs):
    state, trail = runs[name]
    limits = limits_of(EXAMS)
    truth = truth_of(limits)
    for rows in ([0], [EXAMS - 1], [5, 6, 7], list(range(3, 30))):
        alone, steps = run(name, limits[rows], truth[rows], SEEDS[rows])
        _same(state, alone, rows)
        for mine, theirs in zip(steps, trail, strict=False):
            going = mine[4]
            assert np.array_equal(mine[1][going], theirs[1][rows][going])
            assert np.array_equal(mine[2][going], theirs[2][rows][going])
        for mine, theirs in zip(
            (*procedure(name).estimate(alone), *procedure(name).interval_db(alone)),
            (*procedure(name).estimate(state), *procedure(name).interval_db(state)),
            strict=True,
        ):
            assert np.array_equal(mine, theirs[rows])


@EVERY
def test_the_same_again_is_the_same(name, runs):
    limits = limits_of(EXAMS)
    again, _ = run(name, limits, truth_of(limits), SEEDS)
    _same(runs[name][0], again, np.arange(EXAMS))


@EVERY
def test_every_exam_comes_to_an_end_within_what_the_settings_say(name, runs):
    state, trail = runs[name]
    rule = procedure(name)
    assert rule.finished(state).all()
    assert (rule.left(state) == 0).all()
    asked = np.zeros((EXAMS, PLACES), int)
    for _, place, _, _, going in trail:
        np.add.at(asked, (np.flatnonzero(going), place[going]), 1)
    fewest, most = SETTINGS[name].answers_per_place
    assert asked.min() >= fewest
    assert asked.max() <= most


@EVERY
def test_levels_stay_in_range_and_a_finished_place_is_never_asked(name, runs):
    rule = procedure(name)
    for state, place, level, _, going in runs[name][1]:
        row = np.flatnonzero(going)
        assert (level[row] >= FULL_DB).all()
        assert (level[row] <= UPPER_DB).all()
        assert not rule.finished(state)[row, place[row]].any()


@EVERY
def test_no_place_twice_running_unless_it_is_the_last_one_open(name, runs):
    rule, trail = procedure(name), runs[name][1]
    for (_, before, _, _, _), (state, place, _, _, going) in itertools.pairwise(trail):
        several = (~rule.finished(state)).sum(axis=-1) > 1
        assert not (place == before)[several & going].any()


@EVERY
def test_what_is_finished_stays_finished_and_the_rest_only_shrinks(name, runs):
    rule, trail = procedure(name), runs[name][1]
    for (earlier, *_), (later, *_) in itertools.pairwise(trail):
        assert not (rule.finished(earlier) & ~rule.finished(later)).any()


@EVERY
def test_an_answer_at_a_finished_place_does_not_open_it_again(name, runs):
    rule, (state, _) = procedure(name), runs[name]
    for seen in (True, False):
        for place in range(PLACES):
            state = rule.update(
                state, np.full(EXAMS, place), np.full(EXAMS, 12.0), np.full(EXAMS, seen)
            )
            assert rule.finished(state).all()


@EVERY
def test_what_is_left_is_never_more_than_what_comes(name, runs):
    """The schedule of catch trials relies on it."""
    rule, trail = procedure(name), runs[name][1]
    to_come = np.zeros(EXAMS, int)
    for state, _, _, _, going in reversed(trail):
        to_come += going
        left = rule.left(state)
        assert left.shape == (EXAMS,)
        assert (left <= to_come).all()
        assert np.array_equal(left > 0, ~rule.finished(state).all(axis=-1))


@EVERY
def test_estimates_have_a_value_for_each_place_at_any_time(name, runs):
    rule, (state, trail) = procedure(name), runs[name]
    for one in (trail[0][0], trail[len(trail) // 2][0], state):
        mean, sd, finished = rule.estimate(one)
        low, high = rule.interval_db(one)
        for array in (mean, sd, finished, low, high):
            assert array.shape == (EXAMS, PLACES)
        assert np.isfinite(mean).all()
        assert (sd >= 0).all()
        assert (low <= high).all()
        assert np.array_equal(finished, rule.finished(one))


@EVERY
def test_an_exam_without_an_answer_stays_as_it_is_and_no_state_is_changed_in_place(name, runs):
    rule, trail = procedure(name), runs[name][1]
    state, place, level, seen, _ = trail[len(trail) // 2]
    kept = {name: value.copy() for name, value in arrays(state)}
    some = np.where(np.arange(EXAMS) % 2 == 0, place, -1)
    new = rule.update(state, some, level, seen)
    full = rule.update(state, place, level, seen)
    now, half, whole = dict(arrays(state)), dict(arrays(new)), dict(arrays(full))
    for key, before in kept.items():
        assert np.array_equal(now[key], before, equal_nan=True)
        assert np.array_equal(half[key][1::2], before[1::2], equal_nan=True)
        assert np.array_equal(half[key][::2], whole[key][::2], equal_nan=True)


@EVERY
def test_catch_trials_are_taken_without_complaint(name, runs):
    rule, trail = procedure(name), runs[name][1]
    state = rule.heed(trail[0][0], np.arange(EXAMS) % 4, np.ones(EXAMS, bool))
    assert rule.estimate(state).mean_db.shape == (EXAMS, PLACES)


@EVERY
def test_wrong_shapes_are_refused(name):
    rule, one = procedure(name), np.zeros(EXAMS)
    state = rule.start(limits_of(EXAMS))
    short, nobody = np.zeros(EXAMS - 1), np.full(EXAMS, -1)
    for call in (
        lambda: rule.start(np.zeros(5)),
        lambda: rule.start(np.zeros((0, 5))),
        lambda: rule.propose(state, short, nobody),
        lambda: rule.propose(state, one, nobody[:, None]),
        lambda: rule.update(state, nobody[:-1], one, one > 0),
        lambda: rule.update(state, nobody, one[:, None], one > 0),
        lambda: rule.update(state, nobody, one, np.bool_(True)),
    ):
        with pytest.raises(InputError, match=r"shape .*one row for each exam"):
            call()


@EVERY
def test_limits_that_are_no_numbers_are_refused(name):
    with pytest.raises(InputError, match="limits_db"):
        procedure(name).start(np.array([[10.0, np.nan]]))
