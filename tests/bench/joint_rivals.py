"""A strong rival behind the same interface: independent Bayes, place by place.

It has the joint procedure's own seeing curve, a normal prior about the mean of the age with a
uniform floor below it, and always asks the place and level that promise the largest fall of
variance, so that sharing between places is all that sets the two apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from protocols.procedures.interface import Estimate, Procedure
from protocols.procedures.joint.attention import SHARES, press_chance
from protocols.procedures.joint.marginals import interval_db
from protocols.procedures.joint.scale import GRID_DB, HELD_DB, LEVELS_DB

ABOVE_LIMIT_DB = 5.8
PRESS = SHARES @ press_chance(LEVELS_DB)


@dataclass(frozen=True)
class Alone:
    mass: np.ndarray
    mean_db: np.ndarray
    variance: np.ndarray
    gain: np.ndarray
    level: np.ndarray
    looks: np.ndarray


class Independent(Procedure[Alone]):
    """Bayes place by place; a place ends after an answer that leaves an SD of at most `sd_db`."""

    def __init__(self, sd_db, lost):
        self._sd_db, self._lost = sd_db, lost

    def start(self, limits_db):
        mean = limits_db[..., None] + ABOVE_LIMIT_DB
        bell = np.exp(-0.5 * ((GRID_DB - mean) / 2.7) ** 2)
        floor = ((mean + 1 >= GRID_DB) & (GRID_DB >= -6)).astype(float)
        mass = (1 - self._lost) * bell / bell.sum(axis=-1, keepdims=True)
        mass += self._lost * floor / floor.sum(axis=-1, keepdims=True)
        return Alone(mass, *_outlook(mass), np.zeros(limits_db.shape, int))

    def finished(self, state):
        return (state.looks > 0) & (np.sqrt(state.variance) <= self._sd_db)

    def propose(self, state, u, last_place):
        open_places = ~self.finished(state)
        elsewhere = open_places & (np.arange(open_places.shape[1]) != last_place[:, None])
        choosable = np.where(elsewhere.any(axis=1, keepdims=True), elsewhere, open_places)
        place = np.where(choosable, state.gain, -1.0).argmax(axis=1)
        return place, LEVELS_DB[state.level[np.arange(len(place)), place]]

    def update(self, state, place, level_db, seen):
        at = (np.arange(len(place)), place)
        press = SHARES @ press_chance(level_db)
        here = state.mass[at] * np.where(seen[:, None], press, 1 - press)
        here /= here.sum(axis=-1, keepdims=True)
        new = dict(zip(("mean_db", "variance", "gain", "level"), _outlook(here), strict=True))
        changed = {name: getattr(state, name).copy() for name in ("mass", "looks", *new)}
        changed["mass"][at] = here
        changed["looks"][at] += 1
        for name, value in new.items():
            changed[name][at] = value
        return replace(state, **changed)

    def estimate(self, state):
        return Estimate(state.mean_db, np.sqrt(state.variance), self.finished(state))

    def interval_db(self, state):
        return interval_db(state.mass, 0.95)


def _outlook(mass):
    """Mean, variance, largest expected fall of variance and the level that promises it."""
    mean, square = mass @ HELD_DB, mass @ HELD_DB**2
    press, part = mass @ PRESS.T, (mass * HELD_DB) @ PRESS.T
    gain = part**2 / press + (mean[..., None] - part) ** 2 / (1 - press) - mean[..., None] ** 2
    return mean, square - mean**2, gain.max(axis=-1), gain.argmax(axis=-1)
