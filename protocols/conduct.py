"""Conducting an exam: machine and stage in turn, with every fact put on record.

The stage is where light and presses happen: a real window with a real button, or a simulated
participant on a virtual clock. This loop is the same for both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from protocols.answers import judge
from protocols.errors import OrderError
from protocols.events import (
    Advised,
    AnsweredLine,
    Closed,
    Event,
    EyeLine,
    Held,
    PracticeLine,
    PracticeOutcome,
    Presented,
    Resumed,
)
from protocols.exam import ExamState, practice_open, take
from protocols.messages import (
    Advise,
    Begin,
    Done,
    Hold,
    Message,
    Present,
    RepeatPractice,
    Resume,
    SkipEye,
    Wait,
    WaivePractice,
)
from protocols.plan import ExamPlan
from protocols.presentation import Presentation
from protocols.replay import answer_of


@dataclass(frozen=True)
class Settled:
    """Presses in seconds after onset up to now, and what the operator asked for meanwhile."""

    presses_s: Sequence[float]
    asked: Message | None = None


@dataclass(frozen=True)
class Shown:
    """What a stage showed, with the request that cut it short, if any.

    `line` is None where the request came before any light.
    """

    line: Presented | None
    asked: Message | None = None


class Stage(Protocol):
    """Where an exam takes place. Times in seconds on the exam's clock."""

    def show(self, presentation: Presentation) -> Shown:
        """Show it and come back when its answer window is closed."""

    def settle(self, presentation: Presentation) -> Settled:
        """Come back at the end of the quiet gap with all presses since onset."""

    def wait(self, wait: Wait, state: ExamState) -> Message:
        """Wait for what the machine waits for and return the message that ends it."""

    def advise(self, advice: Advise) -> None:
        """Tell the operator."""

    def watch(self, state: ExamState) -> None:
        """See the state after each step, for progress displays."""


class Record(Protocol):
    """Where events go: the journal."""

    def append(self, event: Event) -> None:
        """Write an event."""

    def sync(self) -> None:
        """Make what was written safe."""


def conduct(plan: ExamPlan, state: ExamState, stage: Stage, record: Record) -> ExamState:
    """Run an exam to its end from any state; returns the last state, with `closed` on record."""
    while not isinstance(state.action, Done):
        if isinstance(state.action, Present):
            state = _presentation(plan, state, state.action.presentation, stage, record)
        else:
            message = stage.wait(state.action, state)
            state = _taken(plan, state, message, stage, record)
        stage.watch(state)
    record.append(Closed(state.action.reason, state.phase))
    record.sync()
    return state


def _presentation(
    plan: ExamPlan, state: ExamState, presentation: Presentation, stage: Stage, record: Record
) -> ExamState:
    shown = stage.show(presentation)
    if shown.line is not None:
        record.append(shown.line)
        record.sync()
    if shown.line is None or shown.asked is not None:
        return _cut_short(plan, state, shown, stage, record)
    settled = stage.settle(presentation)
    line = _answer(plan, shown.line, settled.presses_s)
    record.append(line)
    state = take(plan, state, answer_of(line, plan.latency_s))
    _note_round(state, presentation, record)
    _advise(state, stage, record)
    record.sync()
    if settled.asked is None or isinstance(state.action, Done):
        return state
    if isinstance(settled.asked, RepeatPractice | WaivePractice) and not practice_open(plan, state):
        return state  # asked for during the answer that ended it
    return _taken(plan, state, settled.asked, stage, record)


def _note_round(state: ExamState, answered: Presentation, record: Record) -> None:
    """Put a practice round's outcome on record with its last answer."""
    done = state.practice
    if answered.practice and done.passed is not None:
        record.append(_practice_line(state, "passed" if done.passed else "not_passed"))


def _practice_line(state: ExamState, outcome: PracticeOutcome, by: str = "") -> PracticeLine:
    done = state.practice
    return PracticeLine(state.eye.eye, outcome, by, done.shown, done.seen, done.round)


def _advise(state: ExamState, stage: Stage, record: Record) -> None:
    for advice in state.advice:
        record.append(Advised(advice.kind, advice.text))
        stage.advise(advice)


def _cut_short(
    plan: ExamPlan, state: ExamState, shown: Shown, stage: Stage, record: Record
) -> ExamState:
    """Nothing is answered: the presentation stays pending and its index is shown again."""
    if shown.asked is None:
        raise OrderError("a stage must show a presentation or say what it was asked for instead")
    abandoned = shown.line.index if shown.line is not None else None
    return _taken(plan, state, shown.asked, stage, record, abandoned)


def _answer(plan: ExamPlan, shown: Presented, presses_s: Sequence[float]) -> AnsweredLine:
    window = plan.protocol.settings.answering
    corrected = [t - plan.latency_s for t in presses_s]
    judged = judge(corrected, window.accept_from_s, window.accept_until_s)
    time_s = judged.response_time_s
    raw_s = None if time_s is None else time_s + plan.latency_s
    return AnsweredLine(
        index=shown.index,
        verdict=judged.verdict,
        press_s=None if raw_s is None else round(shown.onset_s + raw_s, 6),
        response_time_s=None if raw_s is None else round(raw_s, 6),
        presses_s=[round(t, 6) for t in presses_s],
        spoiled=shown.spoiled,
        corrected_response_time_s=None if time_s is None else round(time_s, 6),
    )


def _taken(
    plan: ExamPlan,
    state: ExamState,
    message: Message,
    stage: Stage,
    record: Record,
    abandoned: int | None = None,
) -> ExamState:
    line = _line(state, message, abandoned)
    if line is not None:
        record.append(line)
    state = take(plan, state, message)
    _advise(state, stage, record)
    if line is not None:
        record.sync()
    return state


def _line(state: ExamState, message: Message, abandoned: int | None) -> Event | None:
    if isinstance(message, Begin):
        return EyeLine(state.eye.eye)
    if isinstance(message, SkipEye):
        return EyeLine(state.eye.eye, skipped=True)
    if isinstance(message, Hold):
        return Held(message.reason, abandoned)
    if isinstance(message, RepeatPractice):
        return _practice_line(state, "repeated")
    if isinstance(message, WaivePractice):
        return _practice_line(state, "waived", message.by)
    if isinstance(message, Resume):
        return Resumed(after=state.phase)
    return None
