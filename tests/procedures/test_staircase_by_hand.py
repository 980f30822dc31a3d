"""Staircases worked out by hand, answer by answer."""

from __future__ import annotations

import numpy as np
import pytest

from protocols.procedures.settings import StaircaseSettings
from protocols.procedures.staircase import Staircase


def _walk(settings, first_db, answers):
    """Levels shown for answers (Y, N), the estimate and whether that ended the place."""
    rule = Staircase(settings)
    state, levels = rule.start(np.array([[first_db]])), []
    for answer in answers:
        assert not rule.finished(state)[0, 0], "ended early"
        place, level = rule.propose(state, np.zeros(1), np.array([-1]))
        levels.append(float(level[0]))
        state = rule.update(state, place, level, np.array([answer == "Y"]))
    mean, _, finished = rule.estimate(state)
    return levels, float(mean[0, 0]), bool(finished[0, 0])


PLAIN = StaircaseSettings()
BY_HAND = [
    ("up, back, up", PLAIN, 20.0, "YYNNY", [20, 24, 28, 26, 24], 25.0),
    ("down, up, down", PLAIN, 20.0, "NNYN", [20, 16, 12, 14], 13.0),
    ("both midpoints", StaircaseSettings(averaged=2), 20.0, "YYNNY", [20, 24, 28, 26, 24], 25.5),
    ("sees nothing", PLAIN, 6.0, "NNNN", [6, 2, 0, 0], 0.0),
    ("sees all", PLAIN, 34.0, "YYYY", [34, 38, 40, 40], 40.0),
    (
        "two in a row",
        StaircaseSettings(seen_in_a_row=2, steps_db=(4.0,), reversals=3, averaged=2),
        20.0,
        "YYYNYYN",
        [20, 20, 24, 24, 20, 20, 24],
        22.0,
    ),
    (
        "weighted",
        StaircaseSettings(steps_db=(3.0,), fainter_ratio=1 / 3),
        20.0,
        "YYNY",
        [20, 21, 22, 19],
        20.5,
    ),
]


@pytest.mark.parametrize(
    ("settings", "first_db", "answers", "levels", "estimate"),
    [case[1:] for case in BY_HAND],
    ids=[case[0] for case in BY_HAND],
)
def test_levels_and_estimate_are_those_worked_out_by_hand(
    settings, first_db, answers, levels, estimate
):
    shown, mean, finished = _walk(settings, first_db, answers)
    assert shown == pytest.approx(levels)
    assert mean == pytest.approx(estimate)
    assert finished


def test_one_more_answer_is_needed_until_then():
    for _, settings, first_db, answers, _, _ in BY_HAND:
        assert not _walk(settings, first_db, answers[:-1])[2]
