"""Exams of one eye through the bare machine, with the moments at which the operator is warned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from scipy.stats import binomtest

from analysis.reference import limits_db, load_reference
from protocols.advice import FIRST, SECOND
from protocols.answers import judge
from protocols.exam import open_exam, take
from protocols.library import Protocol, load_protocol, parse_protocol
from protocols.messages import Answered, Begin, Present
from protocols.observer import (
    Fixation,
    Observer,
    ObserverFile,
    Pressing,
    Seeing,
    press_times_s,
)
from protocols.plan import ExamPlan, nominal_limits_db

DELIVERY, AGE = 0.827, 45
SCREEN_19 = load_protocol("screen-19")
EARLY = SCREEN_19.settings.catch_trials.blind_spot_early
SPARSE = parse_protocol(
    SCREEN_19.text.replace("blind_spot = 8\nblind_spot_early = 8\n", "blind_spot = 3\n"),
    "sparse.toml",
    Path(),
)
"""screen-19 with three blind-spot checks, spread over the exam."""
PER_HALF = 2


@dataclass(frozen=True)
class Ended:
    """One exam: at which presentation each word came first, whether its result is unusable."""

    warned_at: dict[str, int]
    unusable: bool
    presentations: int

    def before_half(self, concern: str | None = None) -> bool:
        """Whether a word (about this, or about anything) came before half the presentations."""
        when = [at for name, at in self.warned_at.items() if concern in (None, name)]
        return any(PER_HALF * at <= self.presentations for at in when)


def participant(false: float, away: float, lapse: float) -> ObserverFile:
    """Nothing lost; rates of uncaused presses, of a gaze off the mark, of misses."""
    return ObserverFile(
        format=1, about="invented", age_years=AGE, pressing=Pressing(false),
        fixation=Fixation(away, 6.0), seeing=Seeing(1.5, lapse),
    )  # fmt: skip


def run_one(protocol: Protocol, model: ObserverFile, seed: int) -> Ended:
    """One exam to its end."""
    places = protocol.pattern.places
    limits = limits_db(load_reference(), places, AGE)
    nominal = nominal_limits_db(tuple(limits), DELIVERY, places)
    plan = ExamPlan(protocol, ("right",), {"right": nominal}, seed, skip_practice=True)
    observer, warned, unusable, now_s = Observer(model, seed), {}, False, 0.0
    state = take(plan, open_exam(plan), Begin())
    while isinstance(state.action, Present):
        shown = state.action.presentation
        presses = press_times_s(observer, shown, shown.contrast * DELIVERY, now_s, 1.0)
        verdict = judge(presses, 0.1, 1.0).verdict
        now_s += 1.0 + shown.gap_s
        state = take(plan, state, Answered(shown.index, verdict, presses_s=presses))
        for concern, kind in FIRST.items():
            if kind in [one.kind for one in state.advice]:
                warned.setdefault(concern, state.eye.presentations)
        unusable |= any(one.kind in SECOND.values() for one in state.advice)
    return Ended(warned, unusable, state.eyes[0].presentations)


def run_many(protocol: Protocol, model: ObserverFile, seeds: Iterable[int]) -> list[Ended]:
    """Exams of the same participant."""
    return [run_one(protocol, model, 1_000_000 + seed) for seed in seeds]


def interval(count: int, total: int) -> tuple[float, float]:
    """95 % Wilson interval of a share."""
    low, high = binomtest(count, total).proportion_ci(0.95, method="wilson")
    return float(low), float(high)
