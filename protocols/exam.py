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
    AdviceKind,
    Advise,
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
    Wait,
    WaivePractice,
)
from protocols.plan import ExamPlan
from protocols.practice import NOT_PRACTISED, PracticeProgress, next_round, still_due, with_answer
from protocols.presentation import Presentation
from protocols.progress import EyeProgress, answered, fresh, needs

Phase = Literal["ready", "practising", "testing", "resting", "held", "finished", "stopped"]


@dataclass(frozen=True)
class ExamState:
    """Everything that is true of an exam between two messages."""

    phase: Phase
    eyes: tuple[EyeProgress, ...]
    action: Action
    eye_number: int = 0
    index: int = 0
    practice: PracticeProgress = NOT_PRACTISED
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
    if isinstance(message, RepeatPractice):
        return _on_repeat(plan, state)
    if isinstance(message, WaivePractice):
        return _on_waive(plan, state, message)
    return _on_stop(state, message)


def _on_begin(plan: ExamPlan, state: ExamState) -> ExamState:
    _require(state, ("ready", "resting"), "begin")
    if not still_due(plan, state.practice, state.phase == "ready"):
        return _acting(plan, replace(state, phase="testing"))
    return _acting(plan, replace(state, phase="practising", practice=NOT_PRACTISED))


def practice_open(plan: ExamPlan, state: ExamState) -> bool:
    """Whether practice is under way or still to come, so that it can be waived."""
    phases = ("ready", "practising", "resting", "held")
    return (
        plan.practice_required
        and state.phase in phases
        and still_due(plan, state.practice, first_begin=False)
    )


def _on_repeat(plan: ExamPlan, state: ExamState) -> ExamState:
    _require(state, ("practising",), "repeat the practice")
    return _acting(plan, replace(state, practice=next_round(state.practice)))


def _on_waive(plan: ExamPlan, state: ExamState, message: WaivePractice) -> ExamState:
    if not practice_open(plan, state):
        raise OrderError(f"cannot waive the practice while {state.phase}: it is over or left out")
    failed = state.practice.passed is False
    state = replace(
        state,
        practice=replace(state.practice, waived_by=message.by),
        advice=(advice.advise("practice_not_passed"),) if failed else (),
    )
    if state.phase == "held":
        began = state.came_from == "practising"
        return replace(state, came_from="testing") if began else state
    if state.phase == "practising":
        state = replace(state, phase="testing")
    return _acting(plan, state)


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
    if not isinstance(state.action, Present):
        raise OrderError("cannot take an answer while the practice waits to be repeated or waived")
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
    done = with_answer(rules, done, answer.verdict == "seen")
    if done.passed is None:
        return replace(state, practice=done)
    if done.passed:
        return replace(state, phase="testing", practice=done)
    if done.round < rules.rounds:
        explain = (advice.advise("explain_again"),)
        return replace(state, practice=next_round(done), advice=explain)
    kind: AdviceKind = "practice_waits" if plan.practice_required else "practice_not_passed"
    return replace(
        state,
        phase="practising" if plan.practice_required else "testing",
        practice=done,
        advice=(advice.advise(kind),),
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
    if state.phase == "practising" and state.practice.passed is False:
        return Wait("practice", 0.0)
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
