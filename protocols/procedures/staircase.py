"""Up and down in fixed steps: plain, n-down-1-up and weighted staircases.

A level is made fainter after so many seen in a row and stronger after one unseen. With equal steps
n in a row settle where a target is seen with chance 0.5**(1/n) (Levitt 1971, J Acoust Soc Am
49:467); with unequal ones where p**n = 1 / (1 + ratio), the ratio being the step towards fainter
over the one towards stronger (Kaernbach 1991, Percept Psychophys 49:227, for n = 1;
García-Pérez 1998, Vision Res 38:1861). Steps that shrink after reversals make the 4-2 rule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from protocols.field import Floats
from protocols.procedures.choosing import any_open_place
from protocols.procedures.interface import (
    Bools,
    Estimate,
    Ints,
    Procedure,
    require_limits,
    require_rows,
)
from protocols.procedures.range import FULL_DB, UPPER_DB
from protocols.procedures.rows import rows_of, with_rows
from protocols.procedures.settings import StaircaseSettings

AT_THE_END = 2
"""Answers in a row at an end of the range that end a place: it goes no further."""


@dataclass(frozen=True)
class StaircaseState:
    """Each (exams, places) but `midpoints_db`, (exams, places, averaged), the newest first.

    `level_db` comes next, `before_db` is the level before the last move, `way` the direction of
    that move (+1 fainter, -1 stronger, 0 none yet), `in_a_row` seen since then, `stuck` answers in
    a row that called for a level outside the range.
    """

    level_db: Floats
    before_db: Floats
    way: Ints
    in_a_row: Ints
    reversals: Ints
    stuck: Ints
    answers: Ints
    midpoints_db: Floats
    done: Bools


class Staircase(Procedure[StaircaseState]):
    """The procedure; see `interface.Procedure` for what each method takes and gives."""

    def __init__(self, settings: StaircaseSettings) -> None:
        self._settings = settings
        self._steps_db = np.asarray(settings.steps_db, float)

    def start(self, limits_db: Floats) -> StaircaseState:
        """Every place at its limit, moved by what the protocol says, within the range."""
        first = require_limits(limits_db) + self._settings.first_above_limit_db
        first = np.clip(first, FULL_DB, UPPER_DB)
        none = np.zeros(first.shape, np.int64)
        midpoints = np.full((*first.shape, self._settings.averaged), np.nan)
        done = np.zeros(first.shape, np.bool_)
        return StaircaseState(first, first, none, none, none, none, none, midpoints, done)

    def finished(self, state: StaircaseState) -> Bools:
        """Reversed often enough, stuck at an end of the range, or asked as often as allowed."""
        return state.done

    def propose(self, state: StaircaseState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Any unfinished place but the last one shown, at the level its staircase has come to."""
        require_rows(len(state.done), u=u, last_place=last_place)
        place = any_open_place(state.done, u, last_place)
        return place, state.level_db[np.arange(len(place)), place]

    def update(
        self, state: StaircaseState, place: Ints, level_db: Floats, seen: Bools
    ) -> StaircaseState:
        """Move the staircase of the place asked from the level shown."""
        require_rows(len(state.done), place=place, level_db=level_db, seen=seen)
        row = np.flatnonzero(place >= 0)
        at = (row, place[row])
        return with_rows(state, at, self._moved(rows_of(state, at), level_db[row], seen[row]))

    def estimate(self, state: StaircaseState) -> Estimate:
        """Mean of the last midpoints, or the level come to where there is none.

        The SD is a rule of thumb, the last step over the root of the number of midpoints, or that
        of the whole range: a staircase has no likelihood behind it.
        """
        known = np.isfinite(state.midpoints_db)
        count = known.sum(axis=-1)
        total = np.where(known, state.midpoints_db, 0.0).sum(axis=-1)
        mean = np.where(count > 0, total / np.maximum(count, 1), state.level_db)
        ended = (count > 0) | (state.stuck >= AT_THE_END)
        narrow = self._steps_db[-1] / np.sqrt(np.maximum(count, 1))
        return Estimate(mean, np.where(ended, narrow, UPPER_DB / np.sqrt(12)), state.done)

    def left(self, state: StaircaseState) -> Ints:
        """One for each reversal to come and one to set out; fewer near an end of the range."""
        rule = self._settings
        to_come = rule.reversals - state.reversals + (state.way == 0)
        near_end = (state.level_db <= FULL_DB) | (state.level_db >= UPPER_DB)
        least = np.minimum(np.where(near_end, 1, to_come), rule.most - state.answers)
        return np.asarray(np.where(state.done, 0, np.maximum(least, 1)).sum(axis=-1), np.int64)

    def _moved(self, old: StaircaseState, shown_db: Floats, seen: Bools) -> StaircaseState:
        rule = self._settings
        in_a_row = np.where(seen, old.in_a_row + 1, 0)
        way = np.where(seen, np.where(in_a_row >= rule.seen_in_a_row, 1, 0), -1)
        reversed_ = (way != 0) & (old.way != 0) & (way != old.way)
        reversals = old.reversals + reversed_
        midpoint = (shown_db + old.before_db) / 2
        pushed = np.concatenate([midpoint[:, None], old.midpoints_db[:, :-1]], axis=-1)
        wanted = shown_db + way * self._step_db(reversals, way)
        level = np.clip(wanted, FULL_DB, UPPER_DB)
        outside = (wanted != level) & (level == shown_db)
        stuck = np.where(outside, old.stuck + 1, np.where(way != 0, 0, old.stuck))
        answers = old.answers + 1
        ends = (reversals >= rule.reversals) | (stuck >= AT_THE_END) | (answers >= rule.most)
        return StaircaseState(
            level_db=level,
            before_db=np.where(way != 0, shown_db, old.before_db),
            way=np.where(way != 0, way, old.way),
            in_a_row=np.where(way != 0, 0, in_a_row),
            reversals=reversals,
            stuck=stuck,
            answers=answers,
            midpoints_db=np.where(reversed_[:, None], pushed, old.midpoints_db),
            done=old.done | ends,
        )

    def _step_db(self, reversals: Ints, way: Ints) -> Floats:
        stronger = self._steps_db[np.minimum(reversals, len(self._steps_db) - 1)]
        return np.where(way > 0, stronger * self._settings.fainter_ratio, stronger)
