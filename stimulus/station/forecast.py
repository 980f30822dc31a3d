"""How much longer: the exam's own machine is played to its end, many times over.

Each future draws a participant who agrees with the answers so far: a place's threshold lies within
the procedure's own estimate; places not yet tried are lost none, here and there, or all within a
region, as far as that agrees with those tried. The spread of the futures, with the error of these
assumptions, is the honest spread of the time left; it narrows as answers come.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from math import hypot

import numpy as np
from scipy.special import ndtr

from protocols.errors import RipplefieldError
from protocols.exam import ExamState, take
from protocols.field import Eye, Floats
from protocols.messages import (
    Answered,
    Begin,
    Done,
    Message,
    Present,
    Resume,
    Wait,
    WaivePractice,
)
from protocols.plan import ExamPlan
from protocols.practice import NOBODY
from protocols.presentation import Presentation
from protocols.procedures.interface import Bools

FUTURES = 24
FEWEST = 6
SLOPE_DB, LAPSES, FALSE_PRESSES = 1.5, 0.02, 0.02
ABOVE_LIMIT_DB, ABOVE_SD_DB = 5.0, 2.5
"""How far an unimpaired threshold lies above the limit that 99 % see: 2.33 SD, rounded."""
DEEPEST_LOSS_DB = 25.0
NO_LOSS, HERE_AND_THERE, IN_A_REGION = 0.5, 0.2, 0.3
"""How likely each kind of field is taken to be before any answer; assumptions."""
REGION_RADIUS_DEG = (5.0, 15.0)
DRAWS = 60
MODEL_ERROR = 0.1
"""Share of the middle by which the model is off on either side, on simulated exams of healthy

people and of regional and scattered loss, so that nine of ten ranges hold the truth:
`tests/bench/time_left.py` measures it, `tests/station/test_time_left.py` holds it to that.
"""
LEAST_ERROR = 1.0
"""Presentations by which the range is off anyway: near the end their lengths do not even out."""
MOST_STEPS = 1500


@dataclass(frozen=True)
class Left:
    """Presentations and rests still to come: the 10th, 50th and 90th of a hundred futures,

    with the model's own error on either side.
    """

    low: float
    middle: float
    high: float
    rests_s: float
    futures: int

    def seconds(self, pace_s: float) -> tuple[float, float, float]:
        """Low, middle and high time left, seconds, at this many seconds a presentation."""
        low, middle, high = (self.rests_s + pace_s * n for n in (self.low, self.middle, self.high))
        return low, middle, high


def presentations_left(
    plan: ExamPlan, state: ExamState, seed: int = 0, patience_s: float = 1.5
) -> Left | None:
    """Play the exam to its end until `FUTURES` are played or patience is out.

    None where fewer than `FEWEST` could be played: then nothing honest can be said.
    """
    end_s = time.monotonic() + patience_s
    random = np.random.default_rng((seed, state.index))
    counts: list[int] = []
    while len(counts) < FUTURES and time.monotonic() < end_s:
        count = _future(plan, state, random, end_s)
        if count is not None:
            counts.append(count)
    if len(counts) < FEWEST:
        return None
    low, middle, high = (float(q) for q in np.quantile(counts, [0.1, 0.5, 0.9]))
    error = MODEL_ERROR * middle + LEAST_ERROR
    low, high = max(0.0, low - error), high + error
    rests = len(state.eyes) - 1 - state.eye_number
    return Left(low, middle, high, rests * plan.protocol.settings.eyes.rest_s, len(counts))


def pace_s(plan: ExamPlan, steps_s: list[float]) -> float:
    """Seconds from onset to onset: the middle of the last ones, else what the protocol asks for."""
    settings = plan.protocol.settings
    planned = (
        0.5 * settings.answering.accept_until_s
        + 0.5 * (settings.foreperiod.min_s + settings.foreperiod.max_s)
        + 0.2
    )
    if len(steps_s) < 4:
        return planned
    return float(np.mean(steps_s))


def _future(
    plan: ExamPlan, state: ExamState, random: np.random.Generator, end_s: float
) -> int | None:
    thresholds = [_thresholds(plan, state, number, random) for number in range(len(state.eyes))]
    shown = 0
    for _ in range(MOST_STEPS):
        action = state.action
        if isinstance(action, Done):
            return shown
        if isinstance(action, Wait):
            state = take(plan, state, _ends(action))
            continue
        if time.monotonic() > end_s:
            return None
        state = take(plan, state, _answer(action, thresholds[state.eye_number], random))
        shown += 1
    return None


def _ends(wait: Wait) -> Message:
    """What ends a wait in a future."""
    if wait.what == "practice":
        return WaivePractice(NOBODY)
    return Resume() if wait.what == "hold" else Begin()


def _answer(action: Present, thresholds: Floats, random: np.random.Generator) -> Answered:
    shown = action.presentation
    seen = random.random() < _chance(shown, thresholds)
    return Answered(shown.index, "seen" if seen else "not_seen")


def _chance(shown: Presentation, thresholds: Floats) -> float:
    if shown.place_number is None or shown.level_db is None:
        return FALSE_PRESSES
    gap = (float(thresholds[shown.place_number]) - shown.level_db) / SLOPE_DB
    return FALSE_PRESSES + (1 - FALSE_PRESSES - LAPSES) * float(ndtr(gap))


def _thresholds(
    plan: ExamPlan, state: ExamState, number: int, random: np.random.Generator
) -> Floats:
    """One draw of an eye's thresholds, nominal dB, shape (places,)."""
    eye = state.eyes[number]
    limits = plan.limits(eye.eye)[0]
    mean_db, sd_db, finished = (part[0] for part in plan.procedure.estimate(eye.procedure))
    start_sd = plan.procedure.estimate(plan.procedure.start(limits[None, :])).sd_db[0]
    fresh = np.where(
        _lost(plan, eye.eye, finished, finished & (mean_db < limits - 0.5), random),
        limits - random.uniform(0, DEEPEST_LOSS_DB, len(limits)),
        limits + random.normal(ABOVE_LIMIT_DB, ABOVE_SD_DB, len(limits)),
    )
    return np.asarray(np.where(sd_db >= 0.95 * start_sd, fresh, random.normal(mean_db, sd_db)))


def _lost(
    plan: ExamPlan, eye: Eye, finished: Bools, found: Bools, random: np.random.Generator
) -> Bools:
    """Which places are lost: of some draws of whole fields, the first that fits those finished."""
    best, fewest = np.zeros(len(found), np.bool_), len(found) + 1
    for _ in range(DRAWS):
        drawn = _field(plan, eye, random)
        wrong = int((finished & (drawn != found)).sum())
        if wrong < fewest:
            best, fewest = drawn, wrong
        if wrong == 0:
            break
    return best


def _field(plan: ExamPlan, eye: Eye, random: np.random.Generator) -> Bools:
    """Lost places of a person nobody has tested, shape (places,)."""
    places = plan.places(eye)
    kind = random.random()
    if kind < NO_LOSS:
        return np.zeros(len(places), np.bool_)
    if kind < NO_LOSS + HERE_AND_THERE:
        return random.random(len(places)) < random.beta(1, 4)
    centre, radius = places[random.integers(len(places))], random.uniform(*REGION_RADIUS_DEG)
    return np.array(
        [hypot(p.x_deg - centre.x_deg, p.y_deg - centre.y_deg) <= radius for p in places]
    )


def safely_left(plan: ExamPlan, state: ExamState, seed: int = 0) -> Left | None:
    """As `presentations_left`; None for a state that cannot be played on, such as a stopped one."""
    if isinstance(state.action, Done):
        return None
    try:
        return presentations_left(plan, state, seed)
    except RipplefieldError:
        return None
