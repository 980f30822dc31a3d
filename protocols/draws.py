"""Random numbers by address: a draw is a function of (seed, index, stream), of nothing else.

So a killed exam that starts again at presentation 17 draws what it would have drawn, and a
million exams are drawn as arrays with the same numbers as one exam drawn alone. The mixing
function is the finalizer of SplitMix64 (Steele, Lea & Flood 2014, OOPSLA), applied once for each
part of the address.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from protocols.field import Floats


class Stream(IntEnum):
    """What a draw is for. Numbers are part of the record: never reuse or renumber one."""

    TRIAL_KIND = 1
    CATCH_KIND = 2
    PLACE = 3
    PHASE = 4
    GAP = 5
    SEE = 20
    LAPSE = 21
    FALSE_PRESS = 22
    FALSE_PRESS_TIME = 23
    REACTION_NORMAL = 24
    REACTION_TAIL = 25
    GAZE_AWAY = 26
    GAZE_X = 27
    GAZE_Y = 28
    ATTENTION = 29
    EXAM_SEED = 40


_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)


def uniform(seed: ArrayLike, index: ArrayLike, stream: Stream) -> Floats:
    """Uniform draws in [0, 1); seed and index are whole numbers >= 0 and broadcast.

    `Stream` keeps draws for different uses apart.

    >>> float(uniform(1, 2, Stream.PLACE)) == float(uniform([1, 9], 2, Stream.PLACE)[0])
    True
    """
    with np.errstate(over="ignore"):
        state = _mixed(np.asarray(seed, np.uint64))
        state = _mixed(state ^ _mixed(np.asarray(index, np.uint64) + _GOLDEN))
        state = _mixed(state ^ _mixed(np.asarray(int(stream), np.uint64) * _GOLDEN))
    return np.asarray((state >> np.uint64(11)).astype(np.float64) * 2.0**-53)


def _mixed(z: NDArray[np.uint64]) -> NDArray[np.uint64]:
    z = z + _GOLDEN
    z = (z ^ (z >> np.uint64(30))) * _FIRST
    z = (z ^ (z >> np.uint64(27))) * _SECOND
    return np.asarray(z ^ (z >> np.uint64(31)))


def normal(seed: ArrayLike, index: ArrayLike, stream: Stream) -> Floats:
    """Standard normal draws by the same address. Seed and index broadcast as in `uniform`."""
    return np.asarray(ndtri(uniform(seed, index, stream) + 2.0**-54))


def exponential(seed: ArrayLike, index: ArrayLike, stream: Stream) -> Floats:
    """Exponential draws of mean 1 by the same address. Seed and index broadcast as in `uniform`."""
    return np.asarray(-np.log1p(-uniform(seed, index, stream)))


def bounded_exponential(
    seed: ArrayLike, index: ArrayLike, stream: Stream, low: float, high: float, decay: float
) -> Floats:
    """Draws from an exponential of mean `decay` that starts at `low`, cut off at `high`.

    Its hazard is constant until close to the bound: having waited tells nothing about what is left,
    so a rhythm cannot be learnt (a non-aging foreperiod; Luce 1986, Response Times, ch. 2). Seed
    and index broadcast as in `uniform`; the answer is in the unit of `low`.
    """
    u = uniform(seed, index, stream)
    return np.asarray(low - decay * np.log1p(-u * -np.expm1(-(high - low) / decay)))


def pick(u: ArrayLike, open_mask: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Index of one open entry along the last axis, chosen evenly by u in [0, 1).

    `open_mask` has shape (..., n) with at least one open entry in each row.
    """
    counts = open_mask.sum(axis=-1)
    rank = np.minimum(np.floor(np.asarray(u) * counts), counts - 1)
    return np.asarray(np.argmax(np.cumsum(open_mask, axis=-1) > rank[..., None], axis=-1), np.int64)
