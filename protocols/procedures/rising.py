"""Rising contrast: the plain three-try screening rule.

The first level is the reference limit, which 99 % of people of that age see. An unseen target is
shown again, each time at higher contrast, the last time at full contrast; unseen then, it is
"not seen at full contrast" (common practice, no published source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

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
from protocols.procedures.range import UPPER_DB
from protocols.procedures.settings import RisingSettings


@dataclass(frozen=True)
class RisingState:
    """levels_db (exams, places, tries); tries made and seen, each (exams, places)."""

    levels_db: Floats
    tries: Ints
    seen: Bools


class Rising(Procedure[RisingState]):
    """The procedure; see `interface.Procedure` for what each method takes and gives."""

    def __init__(self, settings: RisingSettings) -> None:
        self._tries = settings.tries
        self._step_db = settings.step_db

    def start(self, limits_db: Floats) -> RisingState:
        """Levels of every try from the limits: limit, limit less a step, ..., full contrast."""
        limits = require_limits(limits_db)
        steps = [np.maximum(limits - k * self._step_db, 0.0) for k in range(self._tries - 1)]
        levels = np.stack([*steps, np.zeros_like(limits)], axis=-1)
        shape = limits.shape
        return RisingState(levels, np.zeros(shape, np.int64), np.zeros(shape, np.bool_))

    def finished(self, state: RisingState) -> Bools:
        """Seen once, or tried as often as allowed."""
        return np.asarray(state.seen | (state.tries >= self._tries))

    def propose(self, state: RisingState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Any unfinished place but the last one shown, at the level of its next try."""
        require_rows(len(state.seen), u=u, last_place=last_place)
        place = any_open_place(self.finished(state), u, last_place)
        row = np.arange(len(place))
        attempt = np.minimum(state.tries[row, place], self._tries - 1)
        return place, state.levels_db[row, place, attempt]

    def update(self, state: RisingState, place: Ints, level_db: Floats, seen: Bools) -> RisingState:
        """Count the try and note whether it was seen."""
        require_rows(len(state.seen), place=place, level_db=level_db, seen=seen)
        row, told = np.arange(len(place)), place >= 0
        tries, was_seen = state.tries.copy(), state.seen.copy()
        tries[row, place] += told
        was_seen[row, place] |= seen & told
        return replace(state, tries=tries, seen=was_seen)

    def estimate(self, state: RisingState) -> Estimate:
        """Middle and SD of the range the tries leave open, as if any value in it were as likely."""
        made = np.minimum(state.tries, self._tries)
        floor = np.zeros_like(state.levels_db[..., :1])
        ceiling = np.full_like(floor, UPPER_DB)
        bounds = np.concatenate([ceiling, state.levels_db, floor], axis=-1)
        low = np.where(state.seen, _taken(bounds, made), 0.0)
        high = np.where(state.seen, _taken(bounds, made - 1), _taken(bounds, made))
        return Estimate((low + high) / 2, (high - low) / np.sqrt(12), self.finished(state))


def _taken(bounds: Floats, index: Ints) -> Floats:
    return np.take_along_axis(bounds, np.maximum(index, 0)[..., None], axis=-1)[..., 0]
