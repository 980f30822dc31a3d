"""The examination as a state machine: the only place where the rules of running live.

    ready -> practising -> testing -> resting -> testing (second eye) -> finished

with held and stopped from anywhere that makes sense. `open_exam` gives the first state, `take`
the state after a message; `state.action` is what to do now, `state.advice` what to say now. States
are frozen and every draw is a function of (seed, index), so the machine runs the same in a window,
in simulation and from a journal.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from protocols import advice
from protocols.catch import eye_done
from protocols.choose import choose, choose_practice
from protocols.errors import OrderError
from protocols.messages import (
    Action,
    Advise,
    Answered,
    Begin,
    Done,
    Hold,
    Message,
    Present,
    Resume,
    SkipEye,
    Stop,
    Wait,
)
from protocols.plan import ExamPlan
from protocols.presentation import Presentation
from protocols.progress import EyeProgress, answered, fresh, needs

Phase = Literal["ready", "practising", "testing", "resting", "held", "finished", "stopped"]


@dataclass(frozen=True)
class PracticeProgress:
    """Practice of the first eye: presentations and seen ones in this round, rounds begun."""

    shown: int = 0
    seen: int = 0
    round: int = 1
    passed: bool | None = None


@dataclass(frozen=True)
class ExamState:
    """Everything that is true of an exam between two messages."""

    phase: Phase
    eyes: tuple[EyeProgress, ...]
    action: Action
    eye_number: int = 0
    index: int = 0
    practice: PracticeProgress = PracticeProgress()
    advice: tuple[Advise, ...] = ()
    came_from: Phase = "ready"
    hold_reason: str = ""

    @property
    def eye(self) -> EyeProgress:
        """The eye under test, or next to be."""
        return self.eyes[self.eye_number]


def open_exam(plan: ExamPlan) -> ExamState:
    """The state of an exam that nobody has begun."""
    eyes = tuple(fresh(plan, eye) for eye in plan.eyes)
    return ExamState("ready", eyes, Wait("begin", 0.0))


def take(plan: ExamPlan, state: ExamState, message: Message) -> ExamState:
    """The state after a message; raises OrderError, in words, if the state cannot take it."""
    state = replace(state, advice=())
    if isinstance(message, Answered):
        return _on_answer(plan, state, message)
    if isinstance(message, Begin):
        return _on_begin(plan, state)
    if isinstance(message, Hold):
        return _on_hold(state, message)
    if isinstance(message, Resume):
        return _on_resume(plan, state)
    if isinstance(message, SkipEye):
        return _on_skip(plan, state)
    return _on_stop(state, message)


def _on_begin(plan: ExamPlan, state: ExamState) -> ExamState:
    _require(state, ("ready", "resting"), "begin")
    practise = state.phase == "ready" and not plan.skip_practice
    return _acting(plan, replace(state, phase="practising" if practise else "testing"))


def _on_hold(state: ExamState, message: Hold) -> ExamState:
    _require(state, ("ready", "practising", "testing", "resting"), "hold")
    return replace(
        state,
        phase="held",
        came_from=state.phase,
        hold_reason=message.reason,
        action=Wait("hold", 0.0),
    )


def _on_resume(plan: ExamPlan, state: ExamState) -> ExamState:
    _require(state, ("held", "stopped"), "resume")
    if state.phase == "stopped":
        so_far = (state.eye.presentations, state.eye.spoiled)
        state = _with_eye(state, replace(state.eye, before_resume=so_far))
    return _acting(plan, replace(state, phase=state.came_from))


def _on_stop(state: ExamState, message: Stop) -> ExamState:
    _require(state, ("ready", "practising", "testing", "resting", "held"), "stop")
    came_from = state.came_from if state.phase == "held" else state.phase
    return replace(state, phase="stopped", came_from=came_from, action=Done(message.reason))


def _on_skip(plan: ExamPlan, state: ExamState) -> ExamState:
    _require(state, ("ready", "practising", "testing", "resting", "held"), "skip the eye")
    return _next_eye(plan, _with_eye(state, replace(state.eye, skipped=True)))


def _on_answer(plan: ExamPlan, state: ExamState, answer: Answered) -> ExamState:
    _require(state, ("practising", "testing"), "take an answer")
    assert isinstance(state.action, Present)
    shown = state.action.presentation
    if answer.index != shown.index:
        raise OrderError(
            f"cannot take the answer to presentation {answer.index}: "
            f"presentation {shown.index} is pending; answer that one first"
        )
    state = replace(state, index=state.index + 1)
    if state.phase == "practising":
        return _acting(plan, _practised(plan, state, shown, answer))
    return _tested(plan, state, shown, answer)


def _practised(
    plan: ExamPlan, state: ExamState, shown: Presentation, answer: Answered
) -> ExamState:
    rules, done = plan.protocol.settings.practice, state.practice
    state = _with_eye(state, replace(state.eye, last_place=shown.place_number or 0))
    if answer.spoiled:
        return state
    done = replace(done, shown=done.shown + 1, seen=done.seen + (answer.verdict == "seen"))
    if done.shown < rules.presentations:
        return replace(state, practice=done)
    if done.seen >= rules.needed:
        return replace(state, phase="testing", practice=replace(done, passed=True))
    if done.round < rules.rounds:
        again = PracticeProgress(round=done.round + 1)
        return replace(state, practice=again, advice=(advice.advise("explain_again"),))
    return replace(
        state,
        phase="testing",
        practice=replace(done, passed=False),
        advice=(advice.advise("practice_not_passed"),),
    )


def _tested(plan: ExamPlan, state: ExamState, shown: Presentation, answer: Answered) -> ExamState:
    eye = answered(plan, state.eye, shown, answer)
    new = advice.due(state.eye.evidence, eye.evidence)
    state = replace(_with_eye(state, eye), advice=tuple(map(advice.advise, new)))
    reason = _stop_reason(plan, eye)
    if reason:
        return replace(state, phase="stopped", came_from="testing", action=Done(reason))
    if eye_done(needs(plan, eye))[0]:
        return _next_eye(plan, state)
    return _acting(plan, state)


def _stop_reason(plan: ExamPlan, eye: EyeProgress) -> str:
    rules = plan.protocol.settings.stop
    shown, spoiled = (
        eye.presentations - eye.before_resume[0],
        eye.spoiled - eye.before_resume[1],
    )
    if spoiled >= rules.spoiled_least and spoiled / shown > rules.spoiled_share:
        return (
            f"the display dropped or delayed frames in {spoiled} of {shown} "
            f"presentations; the protocol allows {rules.spoiled_share:.0%}. Close other programs "
            "or use a faster machine, then resume"
        )
    if eye.presentations >= rules.presentations_per_eye:
        return (
            f"{eye.presentations} presentations to one eye, the most the protocol allows; "
            "explain the task again and test anew"
        )
    return ""


def _next_eye(plan: ExamPlan, state: ExamState) -> ExamState:
    following = state.eye_number + 1
    if following >= len(state.eyes):
        return replace(state, phase="finished", action=Done("finished"))
    rest = Wait("rest", plan.protocol.settings.eyes.rest_s)
    return replace(state, phase="resting", eye_number=following, action=rest)


def _acting(plan: ExamPlan, state: ExamState) -> ExamState:
    return replace(state, action=_action(plan, state))


def _action(plan: ExamPlan, state: ExamState) -> Action:
    if state.phase == "testing":
        return Present(choose(plan, state.eye, state.index))
    if state.phase == "practising":
        return Present(choose_practice(plan, state.eye.eye, state.index, state.eye.last_place))
    if state.phase == "resting":
        return Wait("rest", plan.protocol.settings.eyes.rest_s)
    return Wait("begin", 0.0)


def _with_eye(state: ExamState, eye: EyeProgress) -> ExamState:
    eyes = tuple(eye if n == state.eye_number else old for n, old in enumerate(state.eyes))
    return replace(state, eyes=eyes)


def _require(state: ExamState, phases: tuple[Phase, ...], what: str) -> None:
    if state.phase not in phases:
        raise OrderError(f"cannot {what} while {state.phase}; possible while {', '.join(phases)}")
