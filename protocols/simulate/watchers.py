"""Simulated participants as arrays: the model of `protocols.observer` under steady gaze."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from protocols.draws import Stream, exponential, normal, uniform
from protocols.field import Floats
from protocols.observer import EARLIEST_S, Reaction
from protocols.procedures.interface import Bools, Ints
from protocols.protocol import Answering


@dataclass(frozen=True)
class Watchers:
    """Sensitivity (delivered contrast dB), spread (dB) and lapse rate, each (exams, places);

    false-press rate (exams,). The target on the blind spot is never seen: gaze is steady.
    """

    sensitivity_db: Floats
    slope_db: Floats
    lapse_rate: Floats
    false_press_rate: Floats


class Presses(NamedTuple):
    """First and second press of each exam in seconds after onset, infinite where there is none."""

    first_s: Floats
    second_s: Floats


def chance_of_seeing(watchers: Watchers, place: Ints, contrast: Floats, gratings: Bools) -> Floats:
    """Chance, (exams,), that a grating of this delivered contrast at a place is noticed.

    `gratings` says where there is one at a place; elsewhere the chance is 0.
    """
    row = np.arange(len(place))
    with np.errstate(divide="ignore"):
        level_db = -20 * np.log10(contrast)
    above_db = watchers.sensitivity_db[row, place] - level_db
    noticed = ndtr(above_db / watchers.slope_db[row, place])
    return np.where(gratings, (1 - watchers.lapse_rate[row, place]) * noticed, 0.0)


def presses(
    watchers: Watchers, seeds: Ints, index: int, p: Floats, window_s: float, times: Reaction
) -> Presses:
    """Presses at one presentation, drawn by the same address as for one participant.

    Chances p and seeds of shape (exams,).
    """
    saw = uniform(seeds, index, Stream.SEE) < p
    reaction = np.where(saw, _reaction_s(seeds, index, p, times), np.inf)
    slipped = uniform(seeds, index, Stream.FALSE_PRESS) < watchers.false_press_rate
    slip = np.where(slipped, uniform(seeds, index, Stream.FALSE_PRESS_TIME) * window_s, np.inf)
    return Presses(np.minimum(reaction, slip), np.maximum(reaction, slip))


def _reaction_s(seeds: Ints, index: int, p: Floats, times: Reaction) -> Floats:
    z = normal(seeds, index, Stream.REACTION_NORMAL)
    tail = exponential(seeds, index, Stream.REACTION_TAIL)
    doubt = 4 * p * (1 - p) * times.slower_near_threshold_s
    mean_s = times.mean_s - times.tail_s + times.sd_s * z + times.tail_s * tail + doubt
    return np.maximum(EARLIEST_S, mean_s)


SEEN, NOT_SEEN, ANTICIPATION, LATE = range(4)


def verdicts(pressed: Presses, accept: Answering) -> Ints:
    """Verdict codes (exams,) on the first press: seen, not seen, anticipation, late."""
    first = pressed.first_s
    early, none = first < accept.accept_from_s, np.isinf(first)
    late = first > accept.accept_until_s
    return np.select([none, early, late], [NOT_SEEN, ANTICIPATION, LATE], SEEN)


def windows_s(pressed: Presses, accept: Answering, duration_s: float) -> Floats:
    """How long each answer window stays open: until a counting press and the light are over."""
    counting = [
        (press >= accept.accept_from_s) & (press <= accept.accept_until_s) for press in pressed
    ]
    press_s = np.select(counting, list(pressed), accept.accept_until_s)
    return np.where(counting[0] | counting[1], np.maximum(press_s, duration_s), press_s)
