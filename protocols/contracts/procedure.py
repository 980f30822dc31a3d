"""One contract for every procedure: subclass, say which settings, and all of this holds it.

    class TestLadder(ProcedureContract):
        @pytest.fixture(scope="module", params=[LadderSettings(), LadderSettings(step_db=3.0)])
        @classmethod
        def settings(cls, request):
            return request.param
"""

from __future__ import annotations

import dataclasses
import itertools
import pickle
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
import numpy as np
import pytest

from protocols.contracts.played import PLACES, WHERE, Step, limits_of, play, truth_of
from protocols.errors import InputError
from protocols.field import Floats, Place
from protocols.files import convert
from protocols.procedures.build import build_procedure
from protocols.procedures.interface import Ints, Procedure
from protocols.procedures.range import FULL_DB, UPPER_DB

EXAMS = 37
SEEDS = np.arange(EXAMS) + 11


@dataclass(frozen=True)
class Played:
    """A procedure with the exams it ran: the last state, and every step before it."""

    rule: Procedure[Any]
    state: Any
    trail: list[Step]


def arrays(state: Any, prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Every array of a state by name, those of states within it too."""
    for field in dataclasses.fields(state):
        value, name = getattr(state, field.name), f"{prefix}{field.name}"
        if dataclasses.is_dataclass(value):
            yield from arrays(value, f"{name}.")
        else:
            yield name, value


class ProcedureContract:
    """What every procedure promises; the exams, thresholds and answers are invented, and seeded."""

    @pytest.fixture(scope="module")
    @classmethod
    def settings(cls) -> Any:
        """Settings as a protocol file gives them; a subclass says which."""
        raise NotImplementedError("give the contract a fixture `settings` of scope module")

    @classmethod
    def build(cls, settings: Any, places: Sequence[Place]) -> Procedure[Any]:
        """The procedure of settings, as an exam builds it."""
        return build_procedure(settings, places)

    @pytest.fixture(scope="module")
    @classmethod
    def played(cls, settings: Any) -> Played:
        """Many exams by the procedure."""
        rule, limits = cls.build(settings, WHERE), limits_of(EXAMS)
        return Played(rule, *play(rule, limits, truth_of(limits), SEEDS))

    def test_a_row_alone_gets_to_the_last_bit_what_it_gets_among_others(
        self, played: Played
    ) -> None:
        """An exam never depends on the exams that happen to run beside it."""
        limits = limits_of(EXAMS)
        truth, rule = truth_of(limits), played.rule
        for rows in ([0], [EXAMS - 1], [5, 6, 7], list(range(3, 30))):
            alone, steps = play(rule, limits[rows], truth[rows], SEEDS[rows])
            _same(played.state, alone, rows)
            for mine, theirs in zip(steps, played.trail, strict=False):
                assert np.array_equal(mine.place[mine.going], theirs.place[rows][mine.going])
                assert np.array_equal(mine.level_db[mine.going], theirs.level_db[rows][mine.going])
            for one, all_ in zip(_said(rule, alone), _said(rule, played.state), strict=True):
                assert np.array_equal(one, all_[rows])

    def test_the_same_again_is_the_same(self, played: Played) -> None:
        """Nothing is drawn but what is handed in."""
        limits = limits_of(EXAMS)
        again, _ = play(played.rule, limits, truth_of(limits), SEEDS)
        _same(played.state, again, np.arange(EXAMS))

    def test_every_exam_comes_to_an_end_within_what_the_settings_say(
        self, played: Played, settings: Any
    ) -> None:
        """`answers_per_place` bounds every place; plans and times rely on it."""
        rule = played.rule
        assert rule.finished(played.state).all()
        assert (rule.left(played.state) == 0).all()
        asked = np.zeros((EXAMS, PLACES), int)
        for step in played.trail:
            np.add.at(asked, (np.flatnonzero(step.going), step.place[step.going]), 1)
        fewest, most = settings.answers_per_place
        assert asked.min() >= fewest
        assert asked.max() <= most

    def test_levels_stay_in_range_and_a_finished_place_is_never_asked(
        self, played: Played
    ) -> None:
        """0 dB is full contrast; nothing is fainter than the range's end."""
        for step in played.trail:
            row = np.flatnonzero(step.going)
            assert (step.level_db[row] >= FULL_DB).all()
            assert (step.level_db[row] <= UPPER_DB).all()
            assert not played.rule.finished(step.state)[row, step.place[row]].any()

    def test_no_place_twice_running_unless_it_is_the_last_one_open(self, played: Played) -> None:
        """A place shown twice running would be looked for."""
        for before, step in itertools.pairwise(played.trail):
            several = (~played.rule.finished(step.state)).sum(axis=-1) > 1
            assert not (step.place == before.place)[several & step.going].any()

    def test_what_is_finished_stays_finished(self, played: Played) -> None:
        """A place never opens again."""
        for earlier, later in itertools.pairwise(played.trail):
            was, is_ = played.rule.finished(earlier.state), played.rule.finished(later.state)
            assert not (was & ~is_).any()

    def test_an_answer_at_a_finished_place_does_not_open_it_again(self, played: Played) -> None:
        """Such an answer comes of full-contrast checks."""
        state = played.state
        for seen, place in itertools.product((True, False), range(PLACES)):
            state = played.rule.update(
                state, np.full(EXAMS, place), np.full(EXAMS, 12.0), np.full(EXAMS, seen)
            )
            assert played.rule.finished(state).all()

    def test_what_is_left_is_never_more_than_what_comes(self, played: Played) -> None:
        """The schedule of catch trials relies on it."""
        to_come = np.zeros(EXAMS, int)
        for step in reversed(played.trail):
            to_come += step.going
            left = played.rule.left(step.state)
            assert left.shape == (EXAMS,)
            assert (left <= to_come).all()
            assert np.array_equal(left > 0, ~played.rule.finished(step.state).all(axis=-1))

    def test_estimates_have_a_value_for_each_place_at_any_time(self, played: Played) -> None:
        """Before the first answer too."""
        trail = played.trail
        for state in (trail[0].state, trail[len(trail) // 2].state, played.state):
            mean, sd, finished, low, high = _said(played.rule, state)
            for array in (mean, sd, finished, low, high):
                assert array.shape == (EXAMS, PLACES)
            assert np.isfinite(mean).all()
            assert (sd >= 0).all()
            assert (low <= high).all()
            assert np.array_equal(finished, played.rule.finished(state))

    def test_an_exam_without_an_answer_stays_and_no_state_is_changed_in_place(
        self, played: Played
    ) -> None:
        """Place -1 is no answer; a state handed in is as it was afterwards."""
        step = played.trail[len(played.trail) // 2]
        kept = {name: value.copy() for name, value in arrays(step.state)}
        some = np.where(np.arange(EXAMS) % 2 == 0, step.place, -1)
        new = played.rule.update(step.state, some, step.level_db, step.seen)
        full = played.rule.update(step.state, step.place, step.level_db, step.seen)
        now, half, whole = dict(arrays(step.state)), dict(arrays(new)), dict(arrays(full))
        for key, before in kept.items():
            assert np.array_equal(now[key], before, equal_nan=True)
            assert np.array_equal(half[key][1::2], before[1::2], equal_nan=True)
            assert np.array_equal(half[key][::2], whole[key][::2], equal_nan=True)

    def test_catch_trials_are_taken_without_complaint(self, played: Played) -> None:
        """Of every role, answered or not."""
        first = played.trail[0].state
        state = played.rule.heed(first, np.arange(EXAMS) % 4, np.ones(EXAMS, bool))
        assert played.rule.estimate(state).mean_db.shape == (EXAMS, PLACES)

    def test_wrong_shapes_are_refused(self, played: Played) -> None:
        """See `require_limits` and `require_rows` of `protocols.procedures.interface`."""
        rule, one = played.rule, np.zeros(EXAMS)
        state = rule.start(limits_of(EXAMS))
        short, nobody = np.zeros(EXAMS - 1), np.full(EXAMS, -1)
        for call in (
            lambda: rule.start(np.zeros(5)),
            lambda: rule.start(np.zeros((0, 5))),
            lambda: rule.propose(state, short, nobody),
            lambda: rule.propose(state, one, nobody[:, None]),
            lambda: rule.update(state, nobody[:-1], one, one > 0),
            lambda: rule.update(state, nobody, one[:, None], one > 0),
            lambda: rule.update(state, nobody, one, np.asarray(True)),
        ):
            with pytest.raises(InputError, match=r"shape .*one row for each exam"):
                call()

    def test_limits_that_are_no_numbers_are_refused(self, played: Played) -> None:
        """A limit that is not a number would end in a contrast that is none."""
        with pytest.raises(InputError, match="limits_db"):
            played.rule.start(np.array([[10.0, np.nan]]))

    def test_settings_go_into_a_file_and_come_back(self, settings: Any) -> None:
        """What a protocol file says is all there is; workers on other processes get it too."""
        plain = msgspec.to_builtins(settings)
        assert convert(type(settings), plain, "protocol.toml") == settings
        assert pickle.loads(pickle.dumps(settings)) == settings

    def test_an_unknown_key_is_refused(self, settings: Any) -> None:
        """A misspelt key must not pass for a default."""
        plain = msgspec.to_builtins(settings) | {"no_such_key": 1}
        with pytest.raises(InputError, match="an unknown key"):
            convert(type(settings), plain, "protocol.toml")


def _said(rule: Procedure[Any], state: Any) -> tuple[Any, ...]:
    return (*rule.estimate(state), *rule.interval_db(state))


def _same(one: Any, other: Any, rows: Ints | Floats | list[int]) -> None:
    others = dict(arrays(other))
    for name, value in arrays(one):
        np.testing.assert_array_equal(value[rows], others[name], err_msg=name)
