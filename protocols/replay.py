"""From a journal back to the state of the exam: the same machine, driven by what was recorded."""

from __future__ import annotations

from collections.abc import Iterable

from protocols.errors import InputError
from protocols.events import (
    AnsweredLine,
    Closed,
    Event,
    EyeLine,
    Held,
    Opened,
    PracticeLine,
    Presented,
    Resumed,
)
from protocols.exam import ExamState, open_exam, take
from protocols.library import Protocol
from protocols.messages import (
    Answered,
    Begin,
    Done,
    Hold,
    Message,
    Present,
    RepeatPractice,
    Resume,
    SkipEye,
    Stop,
    WaivePractice,
)
from protocols.plan import ExamPlan


def plan_from(opened: Opened, protocol: Protocol) -> ExamPlan:
    """The plan an exam was opened with; raises InputError if the protocol is another one."""
    if opened.protocol_sha256 != protocol.sha256:
        raise InputError(
            "protocol",
            f"SHA-256 {protocol.sha256[:12]}...",
            f"{opened.protocol_sha256[:12]}..., the one the exam was opened with",
            "Restore the protocol.toml and pattern.toml that were in the folder.",
        )
    limits = {eye: tuple(opened.limits_db[eye]) for eye in opened.eyes}
    return ExamPlan(
        protocol,
        tuple(opened.eyes),
        limits,
        opened.seed,
        opened.skip_practice,
        opened.latency_s,
        opened.practice_required,
    )


def replay(plan: ExamPlan, events: Iterable[Event]) -> ExamState:
    """The state after all recorded events.

    Raises InputError where a recorded presentation is not the one this plan and seed give.
    """
    state = open_exam(plan)
    for event in events:
        state = step(plan, state, event)
    return state


def step(plan: ExamPlan, state: ExamState, event: Event) -> ExamState:
    """The state after one more recorded event; raises InputError as `replay` does."""
    if isinstance(event, Presented):
        _require_same(state, event)
    message = _message(plan, state, event)
    return state if message is None else take(plan, state, message)


def answer_of(line: AnsweredLine, latency_s: float) -> Answered:
    """The message that a recorded answer was to the machine."""
    presses_s = tuple(round(press - latency_s, 6) for press in line.presses_s)
    return Answered(
        line.index, line.verdict, line.spoiled, tuple(t for t in presses_s if t >= 0)
    )


def _message(plan: ExamPlan, state: ExamState, event: Event) -> Message | None:
    if isinstance(event, AnsweredLine):
        return answer_of(event, plan.latency_s)
    if isinstance(event, EyeLine):
        return SkipEye() if event.skipped else Begin()
    if isinstance(event, PracticeLine):
        return _practice_message(plan, event)
    if isinstance(event, Held):
        return Hold(event.reason)
    if isinstance(event, Resumed):
        return Resume() if event.after in ("held", "stopped") else None
    if isinstance(event, Closed):
        return None if isinstance(state.action, Done) else Stop(event.reason)
    return None


def _practice_message(plan: ExamPlan, line: PracticeLine) -> Message | None:
    """What the operator decided; a round's outcome follows from its answers."""
    if line.outcome == "repeated":
        return RepeatPractice()
    if line.outcome == "waived" and not plan.skip_practice:
        return WaivePractice(line.by)
    return None


def _require_same(state: ExamState, event: Presented) -> None:
    action = state.action
    if isinstance(action, Present):
        wanted = action.presentation
        same = (wanted.index, wanted.eye, wanted.role, wanted.place_number, wanted.level_db) == (
            event.index,
            event.eye,
            event.role,
            event.place_number,
            event.level_db,
        )
        if same:
            return
    raise InputError(
        "journal",
        f"presentation {event.index} ({event.role} at {event.x_deg:g}, {event.y_deg:g} deg)",
        "the one that protocol, seed and earlier answers give",
        "The record or the protocol was changed; run ripplefield verify.",
    )
