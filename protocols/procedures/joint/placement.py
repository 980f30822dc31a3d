"""Where and how strong the next target should be: expected narrowing of its place per second."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from protocols.draws import pick
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.joint.attention import SHARES, press_chance
from protocols.procedures.joint.scale import HELD_DB, LEVELS_DB

AS_GOOD = 0.9
"""Places that promise this share of the best are drawn from at random, so none can be foreseen."""

_BY_LEVEL: Floats = SHARES @ press_chance(LEVELS_DB)
_BOTH = np.ascontiguousarray(np.concatenate([_BY_LEVEL, _BY_LEVEL * HELD_DB]).T)
_COUNT = len(LEVELS_DB)


@dataclass(frozen=True)
class Seconds:
    """How long a presentation takes with its gap, if it is seen and if it is not."""

    seen_s: float
    unseen_s: float


@dataclass(frozen=True)
class Prospect:
    """Best level (dB) of each place and the variance (dB^2 a second) it is expected to take away,

    each (exams, places)."""

    level_db: Floats
    gain: Floats


def prospects(
    believed: Floats, believed_mean: Floats, wary: Floats, wary_mean: Floats, time: Seconds
) -> Prospect:
    """The level that narrows what is believed most, and how much it narrows what is feared.

    Probabilities (exams, places, grid) and their means (exams, places).
    """
    found = believed @ _BOTH
    press, pressed_sum = found[..., :_COUNT], found[..., _COUNT:]
    best = _gain(press, pressed_sum, believed_mean[..., None], time).argmax(axis=-1)
    at_best = wary * _BY_LEVEL[best]
    gain = _gain(at_best.sum(axis=-1), (at_best * HELD_DB).sum(axis=-1), wary_mean, time)
    return Prospect(LEVELS_DB[best], np.maximum(gain, 0.0))


def _gain(press: Floats, pressed_sum: Floats, mean: Floats, time: Seconds) -> Floats:
    """Expected fall of variance a second; pressed_sum is the mean over presses times their chance.

    The variance of the mean over the two answers is what an answer takes away on average.
    """
    unpressed_sum = mean - pressed_sum
    after = pressed_sum * pressed_sum / press + unpressed_sum * unpressed_sum / (1 - press)
    seconds = time.unseen_s + (time.seen_s - time.unseen_s) * press
    return np.asarray((after - mean * mean) / seconds)


def next_place(prospect: Prospect, open_places: Bools, u: Floats, last_place: Ints) -> Ints:
    """One of the most promising open places, another than the last if there is one; (exams,)."""
    elsewhere = open_places & (np.arange(open_places.shape[-1]) != last_place[:, None])
    choosable = np.where(elsewhere.any(axis=-1, keepdims=True), elsewhere, open_places)
    gain = np.where(choosable, prospect.gain, -1.0)
    return pick(u, gain >= AS_GOOD * gain.max(axis=-1, keepdims=True))
