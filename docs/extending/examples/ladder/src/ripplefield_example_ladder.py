"""A procedure of your own: rungs of rising contrast, the same at every place.

Each place starts `first_below_limit_db` stronger than its limit and goes up rung by rung until it
is seen; the last rung is full contrast. The estimate lies between the last unseen rung and the
seen one. Simple, and no rival to the procedures that Ripplefield has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import msgspec
import numpy as np

from protocols.field import Floats, Place
from protocols.procedures.choosing import any_open_place
from protocols.procedures.interface import (
    Bools,
    Estimate,
    Ints,
    Procedure,
    require_limits,
    require_rows,
)
from protocols.procedures.plugged import ProcedurePlugIn
from protocols.procedures.range import FULL_DB, UPPER_DB


class LadderSettings(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="ladder"
):
    """The `procedure` table of a protocol; every key has its bounds, so that errors name them."""

    rungs: Annotated[int, msgspec.Meta(ge=2, le=20)] = 5
    step_db: Annotated[float, msgspec.Meta(ge=0.5, le=20.0)] = 4.0
    first_below_limit_db: Annotated[float, msgspec.Meta(ge=0.0, le=20.0)] = 0.0

    @property
    def answers_per_place(self) -> tuple[int, int]:
        """Fewest and most presentations at one place."""
        return 1, self.rungs


@dataclass(frozen=True)
class LadderState:
    """Each (exams, places): first rung's level, unseen rungs so far, whether it was seen."""

    first_db: Floats
    unseen: Ints
    seen: Bools


class Ladder(Procedure[LadderState]):
    """The procedure: pure, and for any number of exams at once."""

    def __init__(self, settings: LadderSettings) -> None:
        self._settings = settings

    def start(self, limits_db: Floats) -> LadderState:
        """Every place at its first rung."""
        first = require_limits(limits_db) - self._settings.first_below_limit_db
        none = np.zeros(first.shape, np.int64)
        return LadderState(np.clip(first, FULL_DB, UPPER_DB), none, none > 0)

    def finished(self, state: LadderState) -> Bools:
        """Seen once, or unseen on every rung."""
        return state.seen | (state.unseen >= self._settings.rungs)

    def propose(self, state: LadderState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Any open place but the last one shown, at its next rung."""
        require_rows(len(state.seen), u=u, last_place=last_place)
        place = any_open_place(self.finished(state), u, last_place)
        return place, self._level_db(state, state.unseen)[np.arange(len(place)), place]

    def update(
        self, state: LadderState, place: Ints, level_db: Floats, seen: Bools
    ) -> LadderState:
        """One answer in each exam; an answer at a finished place changes nothing."""
        require_rows(len(state.seen), place=place, level_db=level_db, seen=seen)
        here = (np.arange(state.seen.shape[1]) == place[:, None]) & ~self.finished(state)
        return replace(
            state,
            unseen=state.unseen + (here & ~seen[:, None]),
            seen=state.seen | (here & seen[:, None]),
        )

    def estimate(self, state: LadderState) -> Estimate:
        """Half-way between the last unseen rung and the next one, with half a step as SD."""
        next_db = self._level_db(state, state.unseen)
        last_db = np.where(state.unseen > 0, self._level_db(state, state.unseen - 1), UPPER_DB)
        apart_db = np.maximum(last_db - next_db, 0.0)
        return Estimate(next_db + apart_db / 2, apart_db / 2 + 0.5, self.finished(state))

    def _level_db(self, state: LadderState, rung: Ints) -> Floats:
        level = np.maximum(state.first_db - rung * self._settings.step_db, FULL_DB)
        return np.where(rung >= self._settings.rungs - 1, FULL_DB, level)


def _build(settings: LadderSettings, places: Sequence[Place]) -> Ladder:
    return Ladder(settings)


def _in_words(settings: LadderSettings) -> str:
    return (
        f"up to {settings.rungs} rungs of {settings.step_db:g} dB at each place, the last at full "
        "contrast, until it is seen"
    )


PLUG_IN = ProcedurePlugIn(LadderSettings, _build, _in_words)
