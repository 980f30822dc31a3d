"""How much longer: the exam's own machine is played to its end, many times over.

Each future draws a participant who agrees with the answers so far: a place's threshold lies within
the procedure's own estimate, a place not yet tried is lost as often as the tried ones were. The
spread of the futures is the honest spread of the time left; it narrows as answers come.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from protocols.errors import RipplefieldError
from protocols.exam import ExamState, take
from protocols.field import Floats
from protocols.messages import Answered, Begin, Done, Present, Resume, Wait
from protocols.plan import ExamPlan
from protocols.presentation import Presentation

FUTURES = 24
FEWEST = 6
SLOPE_DB, LAPSES, FALSE_PRESSES = 1.5, 0.02, 0.02
ABOVE_LIMIT_DB, ABOVE_SD_DB = 5.0, 2.5
"""How far an unimpaired threshold lies above the limit that 99 % see: 2.33 SD, rounded."""
DEEPEST_LOSS_DB = 25.0
LOST_BEFORE, KEPT_BEFORE = 0.5, 4.0
MOST_STEPS = 1500


@dataclass(frozen=True)
class Left:
    """Presentations and rests still to come: the 10th, 50th and 90th of a hundred futures."""

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
            state = take(plan, state, Resume() if action.what == "hold" else Begin())
            continue
        if time.monotonic() > end_s:
            return None
        state = take(plan, state, _answer(action, thresholds[state.eye_number], random))
        shown += 1
    return None


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
    lost = int((finished & (mean_db < limits - 0.5)).sum())
    share = random.beta(LOST_BEFORE + lost, KEPT_BEFORE + int(finished.sum()) - lost)
    fresh = np.where(
        random.random(len(limits)) < share,
        limits - random.uniform(0, DEEPEST_LOSS_DB, len(limits)),
        limits + random.normal(ABOVE_LIMIT_DB, ABOVE_SD_DB, len(limits)),
    )
    return np.asarray(np.where(sd_db >= 0.95 * start_sd, fresh, random.normal(mean_db, sd_db)))


def safely_left(plan: ExamPlan, state: ExamState, seed: int = 0) -> Left | None:
    """As `presentations_left`; None for a state that cannot be played on, such as a stopped one."""
    if isinstance(state.action, Done):
        return None
    try:
        return presentations_left(plan, state, seed)
    except RipplefieldError:
        return None
