"""Rising contrast: the plain three-try screening rule.

The first level is the reference limit, which 99 % of people of that age see. An unseen target is
shown again, each time at higher contrast, the last time at full contrast; unseen then, it is
"not seen at full contrast" (common practice, no published source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from protocols.draws import pick
from protocols.field import Floats
from protocols.procedures.interface import Bools, Estimate, Ints
from protocols.procedures.settings import RisingSettings

UPPER_DB = 40.0
"""Nobody sees contrast of 1 %: the top of the range a first-try answer leaves open."""


@dataclass(frozen=True)
class RisingState:
    """levels_db (exams, places, tries); tries made and seen, each (exams, places)."""

    levels_db: Floats
    tries: Ints
    seen: Bools


class Rising:
    """The procedure; see `interface.Procedure` for what each method takes and gives."""

    def __init__(self, settings: RisingSettings) -> None:
        self._tries = settings.tries
        self._step_db = settings.step_db

    def start(self, limits_db: Floats) -> RisingState:
        """Levels of every try from the limits: limit, limit less a step, ..., full contrast."""
        limits = np.asarray(limits_db, float)
        steps = [np.maximum(limits - k * self._step_db, 0.0) for k in range(self._tries - 1)]
        levels = np.stack([*steps, np.zeros_like(limits)], axis=-1)
        shape = limits.shape
        return RisingState(levels, np.zeros(shape, np.int64), np.zeros(shape, np.bool_))

    def finished(self, state: RisingState) -> Bools:
        """Seen once, or tried as often as allowed."""
        return np.asarray(state.seen | (state.tries >= self._tries))

    def propose(self, state: RisingState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Any unfinished place but the last one shown, at the level of its next try."""
        open_places = ~self.finished(state)
        elsewhere = open_places & (np.arange(open_places.shape[-1]) != last_place[:, None])
        choosable = np.where(elsewhere.any(axis=-1, keepdims=True), elsewhere, open_places)
        place = pick(u, choosable)
        row = np.arange(len(place))
        attempt = np.minimum(state.tries[row, place], self._tries - 1)
        return place, state.levels_db[row, place, attempt]

    def update(self, state: RisingState, place: Ints, level_db: Floats, seen: Bools) -> RisingState:
        """Count the try and note whether it was seen."""
        row = np.arange(len(place))
        tries, was_seen = state.tries.copy(), state.seen.copy()
        tries[row, place] += 1
        was_seen[row, place] |= seen
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
