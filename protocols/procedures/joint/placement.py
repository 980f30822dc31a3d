"""Where and how strong the next target should be: expected narrowing of its place per second."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from protocols.draws import pick
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.joint.attention import FALSE_PRESS_RATES, LAPSE_RATES, SHARES
from protocols.procedures.joint.scale import HELD_DB, LEVELS_DB, noticed

AS_GOOD = 0.9
"""Places that promise this share of the best are drawn from at random, so none can be foreseen."""

_FALSE = float(SHARES @ FALSE_PRESS_RATES)
_LAPSE = float(SHARES @ LAPSE_RATES)
_PRESS = np.ascontiguousarray((_FALSE + (1 - _FALSE) * (1 - _LAPSE) * noticed(LEVELS_DB)).T)
_BOTH = np.ascontiguousarray(np.concatenate([_PRESS, _PRESS * HELD_DB[:, None]], axis=1))
_COUNT = len(LEVELS_DB)


@dataclass(frozen=True)
class Prospect:
    """Best level (dB) of each place and the variance (dB^2 a second) it is expected to take away,

    each (exams, places)."""

    level_db: Floats
    gain: Floats


def prospects(mass: Floats, mean: Floats, seen_s: float, unseen_s: float) -> Prospect:
    """What the best level at each place promises; mass (exams, places, grid), mean its means."""
    found = mass @ _BOTH
    press, pressed_sum = found[..., :_COUNT], found[..., _COUNT:]
    unpressed_sum = mean[..., None] - pressed_sum
    kept = pressed_sum**2 / press + unpressed_sum**2 / (1 - press)
    seconds = unseen_s + (seen_s - unseen_s) * press
    gain = (kept - (mean**2)[..., None]) / seconds
    best = gain.argmax(axis=-1)
    top = np.take_along_axis(gain, best[..., None], -1)[..., 0]
    return Prospect(LEVELS_DB[best], np.maximum(top, 0.0))


def next_place(prospect: Prospect, open_places: Bools, u: Floats, last_place: Ints) -> Ints:
    """One of the most promising open places, another than the last if there is one; (exams,)."""
    elsewhere = open_places & (np.arange(open_places.shape[-1]) != last_place[:, None])
    choosable = np.where(elsewhere.any(axis=-1, keepdims=True), elsewhere, open_places)
    gain = np.where(choosable, prospect.gain, -1.0)
    return pick(u, gain >= AS_GOOD * gain.max(axis=-1, keepdims=True))
