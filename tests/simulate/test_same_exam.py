"""Array engine and one-exam machine give the same exams, presentation by presentation."""

from __future__ import annotations

import numpy as np
import pytest
from sim_rigs import (
    DELIVERY,
    PROCEDURES,
    Case,
    Conducted,
    arrays_of,
    conducted,
    random_case,
    random_protocol,
)

from protocols.catch import ROLES
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.outcome import Outcome

EXAMS = {"rising": 200, "staircase": 80, "bayes": 60, "quest-plus": 100} | {
    "joint": 200,
    "decision": 200,
}
"""Of each variant: at least 200 of each procedure."""
EACH = 20
VERDICTS = ("seen", "not_seen", "anticipation", "late")


def _compare(alone: Conducted, batch: Outcome, number: int) -> None:
    """Everything that both know of one exam."""
    history, count = batch.history, len(alone.shown)
    assert batch.presentations[number] == count
    assert (history.role[number, count:] == -1).all()
    for index, (shown, answer) in enumerate(zip(alone.shown, alone.answers, strict=True)):
        assert shown.index == index
        assert ROLES[history.role[number, index]] == shown.role
        place = -1 if shown.place_number is None else shown.place_number
        assert history.place[number, index] == place
        level = np.nan if shown.level_db is None else shown.level_db
        np.testing.assert_equal(history.level_db[number, index], level)
        assert VERDICTS[history.verdict[number, index]] == answer.verdict
        since_first = shown.onset_s - alone.shown[0].onset_s
        assert history.onset_s[number, index] == pytest.approx(since_first, abs=2e-6)
    _compare_ends(alone, batch, number)


def _compare_ends(alone: Conducted, batch: Outcome, number: int) -> None:
    progress = alone.state.eyes[0]
    estimate = alone.plan.procedure.estimate(progress.procedure)
    low, high = alone.plan.procedure.interval_db(progress.procedure)
    for mine, theirs in (
        (estimate.mean_db, batch.mean_db), (estimate.sd_db, batch.sd_db), (low, batch.low_db),
        (high, batch.high_db), (estimate.finished, batch.finished),
    ):  # fmt: skip
        assert np.array_equal(mine[0], theirs[number])
    assert tuple(batch.catch_shown[number]) == progress.catch_shown
    assert tuple(batch.catch_wrong[number]) == progress.catch_wrong
    places = [shown.place_number for shown in alone.shown if shown.role == "place"]
    counts = np.bincount(places, minlength=len(batch.place_presentations[number]))
    assert np.array_equal(counts, batch.place_presentations[number])
    most = alone.plan.protocol.settings.stop.presentations_per_eye
    assert batch.stopped[number] == (len(alone.shown) >= most)


@pytest.mark.parametrize("kind", PROCEDURES)
def test_two_hundred_random_exams_are_the_same_by_both_routes(kind):
    stopped, early = 0, 0
    for block in range(EXAMS[kind.split()[0]] // EACH):
        dice = np.random.default_rng(1000 * block + len(kind))
        protocol = random_protocol(dice, PROCEDURES[kind])
        cases: list[Case] = [
            random_case(dice, len(protocol.pattern.places)) for _ in range(EACH)
        ]
        batch = run_exams(rig_for(protocol, DELIVERY), *arrays_of(protocol, cases))
        for number, case in enumerate(cases):
            _compare(conducted(protocol, case), batch, number)
        stopped += int(batch.stopped.sum())
        early += int((batch.history.verdict == 2).sum())
    assert stopped or kind == "rising"
    assert early, "no anticipation among the answers: the test would not notice them"
