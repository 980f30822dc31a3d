"""Exams for tests: plans, answers from a seed, and the bare machine driven by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from protocols.answers import judge
from protocols.exam import ExamState, open_exam, take
from protocols.library import Protocol, load_protocol, parse_protocol
from protocols.light import Light
from protocols.messages import Advise, Answered, Begin, Done, Present, WaivePractice
from protocols.observer import Observer, press_times_s
from protocols.plan import ExamPlan
from protocols.presentation import Presentation

SCREEN_19 = load_protocol("screen-19")
SCREEN_17 = load_protocol("screen-17")

Answer = Callable[[Presentation], Answered]


def plan_of(
    seed: int = 1, eyes=("right",), protocol: Protocol = SCREEN_19, practice=False, limit_db=20.0
) -> ExamPlan:
    """A plan with the same first level everywhere."""
    count = len(protocol.pattern.places)
    limits = dict.fromkeys(eyes, (limit_db,) * count)
    return ExamPlan(protocol, tuple(eyes), limits, seed, skip_practice=not practice)


def changed(protocol: Protocol, tables: str) -> Protocol:
    """A bundled protocol's essentials with other tables added, as TOML."""
    head = "\n".join(protocol.text.splitlines()[:4])
    text = f'{head}\n[procedure]\nkind = "rising"\n{tables}'
    return parse_protocol(text, "changed.toml", Path())


@dataclass
class Driven:
    """What a hand-driven exam showed and was told, in order."""

    state: ExamState
    shown: list[Presentation] = field(default_factory=list)
    answers: list[Answered] = field(default_factory=list)
    advice: list[Advise] = field(default_factory=list)

    def of_role(self, role: str) -> list[Presentation]:
        return [shown for shown in self.shown if shown.role == role]


def drive(plan: ExamPlan, answer: Answer, state: ExamState | None = None) -> Driven:
    """Drive the bare machine to its end: no window, no clock, no journal."""
    done = Driven(state or open_exam(plan))
    while not isinstance(done.state.action, Done):
        if isinstance(done.state.action, Present):
            presentation = done.state.action.presentation
            given = answer(presentation)
            done.shown.append(presentation)
            done.answers.append(given)
            done.state = take(plan, done.state, given)
            done.advice.extend(done.state.advice)
        else:
            practice = done.state.action.what == "practice"
            done.state = take(plan, done.state, WaivePractice("AB") if practice else Begin())
            done.advice.extend(done.state.advice)
    return done


def always(verdict: str) -> Answer:
    """The same answer to everything."""
    return lambda shown: Answered(shown.index, verdict)


def perfect(shown: Presentation) -> Answered:
    """Sees every grating there is and nothing else, the blind spot included."""
    seen = shown.role in ("place", "full_contrast")
    return Answered(shown.index, "seen" if seen else "not_seen")


def erratic(seed: int, seen: float, early: float = 0.0, spoiled: float = 0.0) -> Answer:
    """Answers thrown by dice; the shares are of all presentations."""
    dice = np.random.default_rng(seed)

    def answer(shown: Presentation) -> Answered:
        thrown = dice.random(3)
        verdict = "seen" if thrown[0] < seen else "not_seen"
        if thrown[1] < early:
            verdict = "anticipation"
        return Answered(shown.index, verdict, bool(thrown[2] < spoiled))

    return answer


def as_observer(plan: ExamPlan, observer: Observer, light: Light) -> Answer:
    """Answers of a simulated participant who does not tire."""
    window = plan.protocol.settings.answering

    def answer(shown: Presentation) -> Answered:
        presses = press_times_s(
            observer, shown, shown.contrast * light.delivery, 0.0, window.accept_until_s
        )
        judged = judge(presses, window.accept_from_s, window.accept_until_s)
        return Answered(
            shown.index, judged.verdict, presses_s=tuple(round(t, 6) for t in presses)
        )

    return answer
