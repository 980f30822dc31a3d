"""A lone deep loss is not smoothed away, and one slip neither makes nor hides a loss for good."""

from __future__ import annotations

import numpy as np
from joint_rigs import HEALTHY_DB, asked, joint, limits, sharp_exams

PLACES = 19


def lone_losses():
    """One field for each place: nothing seen there even at full contrast, all else healthy."""
    truth = np.full((PLACES, PLACES), HEALTHY_DB)
    np.fill_diagonal(truth, -6.0)
    return truth


def test_every_lone_loss_is_found_and_its_neighbours_stay_healthy():
    procedure = joint()
    state, presentations = sharp_exams(procedure, lone_losses())
    mean = procedure.estimate(state).mean_db
    lost = np.eye(PLACES, dtype=bool)
    print("lost:", mean[lost].round(1), "presentations:", presentations)
    assert mean[lost].max() < 3.0
    assert np.abs(mean[~lost] - HEALTHY_DB).max() < 4.0
    assert presentations.max() < 50


def test_neighbours_do_not_talk_a_loss_away():
    """All others seen well over and over; the one place, unseen three times, stays lost."""
    procedure = joint()
    state = procedure.start(limits(1))
    for place in range(1, PLACES):
        for level in (18.0, 21.0, 22.5):
            state = asked(procedure, state, place, level, True)
    for level in (18.0, 9.0, 3.0):
        state = asked(procedure, state, 0, level, False)
    assert procedure.estimate(state).mean_db[0, 0] < 5.0
    chances = dict(zip(procedure.hypotheses, procedure.hypothesis_chances(state)[0], strict=True))
    assert chances["isolated"] == max(chances.values())


def test_one_missed_target_makes_no_loss():
    """The first target at each place in turn is missed by a healthy person: it is asked again."""
    procedure = joint()
    truth = np.full((PLACES, PLACES), HEALTHY_DB)
    asked_before = np.zeros(PLACES, bool)

    def miss_own_first(count, place, seen):
        own = (place == np.arange(PLACES)) & ~asked_before
        asked_before[own] = True
        return seen & ~own

    state, _ = sharp_exams(procedure, truth, miss_own_first)
    assert asked_before.all()
    assert np.diag(procedure.estimate(state).mean_db).min() > HEALTHY_DB - 6.0


def test_a_false_press_at_a_lost_place_is_overruled_when_it_is_asked_again():
    procedure = joint()
    state = procedure.start(limits(1))
    for place in range(1, PLACES):
        state = asked(procedure, state, place, 21.0, True)
    state = asked(procedure, state, 0, 18.0, True)
    fooled = procedure.estimate(state).mean_db[0, 0]
    for level in (18.0, 15.0, 9.0, 3.0, 0.0):
        state = asked(procedure, state, 0, level, False)
    assert fooled > 15.0
    assert procedure.estimate(state).mean_db[0, 0] < 4.0


def test_a_loss_of_half_the_field_is_found_with_fewer_looks_than_two_a_lost_place():
    """Sharing at work: 9 lost places, 10 healthy ones."""
    procedure = joint()
    lost = np.zeros((1, PLACES), bool)
    lost[0, [1, 2, 3, 7, 8, 9, 10, 11, 12]] = True
    state, presentations = sharp_exams(procedure, np.where(lost, HEALTHY_DB - 15.0, HEALTHY_DB))
    error = procedure.estimate(state).mean_db - np.where(lost, HEALTHY_DB - 15.0, HEALTHY_DB)
    print(error.round(1), presentations)
    assert np.abs(error).max() < 5.0
    assert presentations[0] < 45
