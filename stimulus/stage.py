"""The real stage: a window, a button and the operator's keys behind the exam's small interface."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Protocol

from msgspec.structs import replace

from protocols.conduct import Settled, Shown
from protocols.exam import ExamState
from protocols.field import Place
from protocols.grating import FramePlan, Patch
from protocols.light import Light, presented_line
from protocols.messages import (
    Advise,
    Begin,
    Hold,
    Message,
    Resume,
    SkipEye,
    Stop,
    Wait,
)
from protocols.plan import ExamPlan
from protocols.presentation import Presentation
from stimulus import words
from stimulus.buttons.interface import Button, ButtonLost
from stimulus.buttons.operator_keys import Command
from stimulus.buttons.simulated import BEGIN_AFTER_S, SimulatedButton
from stimulus.clock import clock
from stimulus.refresh_watch import other_rate_hz, rate_changed
from stimulus.stillness import HOLDS_S, SPOILS_S, Stillness, stood_still
from stimulus.window import StimulusWindow, WindowGone

POLL_S = 0.002
RECOVER_EVERY_S = 0.5
STOPPED = "stopped by the operator"
CLOSED = "the stimulus window was closed"
EXPLAINED = "the task is explained again"


class OperatorInput(Protocol):
    """Where the operator's commands come from."""

    def commands(self) -> list[Command]:
        """Commands since the last call."""

    def pressed(self) -> None:
        """The participant pressed: whoever watches from elsewhere may be told."""


class Lookout(Protocol):
    """Who is told how the exam goes: a progress bar, a log, nobody."""

    def step(self, state: ExamState) -> None:
        """The state after a step."""

    def say(self, text: str) -> None:
        """A sentence for the operator."""


@dataclass
class WindowStage:
    """A stage for `conduct`. `origin_s` is the shared clock at the journal's zero."""

    plan: ExamPlan
    window: StimulusWindow
    frames: FramePlan
    light: Light
    button: Button
    operator: OperatorInput
    lookout: Lookout
    origin_s: float
    start_now: bool
    interrupted: Callable[[], bool] = lambda: False
    _presses: list[float] = field(default_factory=list)
    _asked: Message | None = None
    _quiet_until: float = 0.0
    _onset_s: float = 0.0
    _holding: bool = False
    _showing: bool = False
    _stillness: Stillness = field(default_factory=Stillness)

    def now_s(self) -> float:
        """Seconds on the journal's clock."""
        return clock() - self.origin_s

    def show(self, presentation: Presentation) -> Shown:
        """Show a patch at the end of the quiet time and wait until its answer window closes."""
        self._showing = True
        self._wait_until(self._quiet_until)
        self._note_commands()
        self._take_presses()
        self._presses = []
        if self._asked is not None:
            return Shown(None, self._ask())
        try:
            return self._shown(presentation)
        except WindowGone as gone:
            return Shown(None, Stop(str(gone)))

    def settle(self, presentation: Presentation) -> Settled:
        """Wait out the quiet gap; presses in it still belong to this presentation."""
        self._wait_until(self._quiet_until)
        self._take_presses()
        return Settled([t - self._onset_s for t in self._presses], self._ask())

    def wait(self, wait: Wait, state: ExamState) -> Message:
        """Rest, hold, or wait for the press that begins an eye."""
        self._showing = False
        try:
            return self._waited(wait, state)
        except WindowGone as gone:
            return Stop(str(gone))

    def _waited(self, wait: Wait, state: ExamState) -> Message:
        self._holding = wait.what == "hold"
        if self._holding:
            return self._wait_through_hold(state)
        if wait.what == "rest":
            self._message(words.while_resting(state.eye.eye))
            self._wait_until(clock() + wait.seconds)
        message = self._ask() or self._wait_for_begin(state)
        if isinstance(message, Begin):
            self._begin_quiet(self.plan.protocol.settings.foreperiod.lead_in_s)
        return message

    def advise(self, advice: Advise) -> None:
        """Tell the operator."""
        self.lookout.say(advice.text)

    def watch(self, state: ExamState) -> None:
        """Tell the lookout, and thank the participant at the end."""
        self.lookout.step(state)
        if state.phase == "finished":
            self._message(words.finished())

    def _shown(self, presentation: Presentation) -> Shown:
        self._stillness.reset()
        shown = self.window.present(
            self._patch(presentation), presentation.contrast, self.frames, self._keep_going
        )
        self._onset_s = shown.onset_s
        line = presented_line(
            self.plan,
            presentation,
            self.light,
            shown.onset_s - self.origin_s,
            (shown.frames_wanted, shown.frames_shown, shown.frames_late),
        )
        self._tell_simulated(presentation, line.contrast_delivered)
        if not shown.stopped:
            self._wait_for_answer()
        self._quiet_until = clock() + presentation.gap_s
        self._heed_rate(shown.frame_interval_s)
        if self._stillness.longest_s > SPOILS_S:
            line = replace(line, spoiled=True)
        return Shown(line, self._ask())

    def _heed_rate(self, interval_s: float | None) -> None:
        refresh = self.window.refresh
        now_hz = other_rate_hz(refresh, interval_s)
        if now_hz is not None:
            self._asked = Stop(rate_changed(now_hz, refresh.refresh_hz))

    def _keep_going(self) -> bool:
        """Called each frame: presses are stamped by their thread, so they only change hands here.

        A lost button is noticed after the presentation.
        """
        self._note_commands()
        with suppress(ButtonLost):
            self._gather()
        return self._asked is None

    def _wait_for_answer(self) -> None:
        """Until the answer window closes, or until a counting press has come."""
        accept = self.plan.protocol.settings.answering
        earliest_s = accept.accept_from_s + self.plan.latency_s
        latest_s = accept.accept_until_s + self.plan.latency_s
        last = self._onset_s + latest_s
        while clock() < last and self._asked is None:
            self._pause()
            self._take_presses()
            times = [t - self._onset_s for t in self._presses]
            if any(earliest_s <= t <= latest_s for t in times):
                return

    def _wait_for_begin(self, state: ExamState) -> Message:
        if self.start_now:
            return Begin()
        if state.phase == "ready":
            self._message(words.before_session())
            answer = self._wait_for_press(Begin())
            if not isinstance(answer, Begin):
                return answer
        practice = state.phase == "ready" and not self.plan.skip_practice
        self._message(words.before_eye(state.eye.eye, practice))
        return self._wait_for_press(Begin())

    def _wait_for_press(self, message: Message) -> Message:
        self._drop_presses()
        if isinstance(self.button, SimulatedButton):
            self.button.press_at([clock() + BEGIN_AFTER_S])
        while True:
            self._pause()
            self._take_presses()
            if self._asked is not None:
                return self._ask() or message
            if self._presses:
                return message

    def _wait_through_hold(self, state: ExamState) -> Message:
        """Until the operator, or the participant's press, says to go on; a lost button first."""
        reason = state.hold_reason
        self.lookout.say(f"On hold: {reason.rstrip('.')}. Go on with key g, or with the button.")
        again = reason == EXPLAINED
        self._message(words.again(state.eye.eye) if again else words.while_held(reason))
        message = self._wait_for_button() or self._wait_for_press(Resume())
        while isinstance(message, Hold):  # lost, or lost again
            message = self._wait_for_button() or self._wait_for_press(Resume())
        self._holding = False
        self._begin_quiet(self.plan.protocol.settings.foreperiod.lead_in_s)
        return message

    def _wait_for_button(self) -> Message | None:
        """Until a lost button works again; the operator's stop or skip, if that comes first."""
        if self._button_works():
            return None
        while not self.button.recover():
            self._rest(RECOVER_EVERY_S)
            asked = self._ask()
            if isinstance(asked, Resume):
                self.lookout.say("The button does not answer yet: plug it in first.")
            elif asked is not None:
                return asked
        self.lookout.say("The button is back. Go on with key g, or with the button.")
        return None

    def _button_works(self) -> bool:
        try:
            self.button.presses()
        except ButtonLost:
            return False
        return True

    def _begin_quiet(self, seconds: float) -> None:
        self.window.quiet()
        self._drop_presses()
        self._quiet_until = clock() + seconds

    def _message(self, lines: list[str]) -> None:
        self.window.message(lines)

    def _wait_until(self, time_s: float) -> None:
        while clock() < time_s and self._asked is None:
            self._pause(time_s)
            self._take_presses()

    def _rest(self, seconds: float) -> None:
        """Heed the operator only: a lost button is not asked."""
        end_s = clock() + seconds
        while clock() < end_s and self._asked is None:
            self._pause(end_s)

    def _pause(self, until_s: float | None = None) -> None:
        left = POLL_S if until_s is None else min(POLL_S, max(0.0, until_s - clock()))
        time.sleep(left)
        self.window.attend()
        self._note_commands()

    def _note_commands(self) -> None:
        gap_s = self._stillness.gap_s()
        if gap_s > HOLDS_S and self._showing:
            self._asked = self._asked or Hold(stood_still(gap_s))
        self._take_commands()
        if self.window.closed:
            self._asked = Stop(CLOSED)
        if self.interrupted():
            self._asked = Stop(STOPPED)

    def _take_commands(self) -> None:
        useless = ("hold", "explain") if self._holding else ("resume",)
        try:
            for command in self.operator.commands():
                if command not in useless:
                    self._asked = self._asked or _message_of(command)
        except ButtonLost:  # the keys are the window's: it is gone
            self.window.exists()  # if the display is gone, that is noticed here and ends it
            self._asked = Stop(CLOSED)

    def _take_presses(self) -> None:
        try:
            self._gather()
        except ButtonLost as lost:
            self._asked = self._asked or Hold(str(lost))

    def _gather(self) -> None:
        new = self.button.presses()
        self._presses.extend(new)
        if new:
            self.operator.pressed()

    def _drop_presses(self) -> None:
        self._take_presses()
        self._presses = []
        if isinstance(self.button, SimulatedButton):
            self.button.forget()

    def _ask(self) -> Message | None:
        asked, self._asked = self._asked, None
        return asked

    def _tell_simulated(self, presentation: Presentation, delivered: float) -> None:
        if isinstance(self.button, SimulatedButton):
            window_s = self.plan.protocol.settings.answering.accept_until_s
            elapsed_s = self._onset_s - self.origin_s
            self.button.saw(presentation, delivered, self._onset_s, elapsed_s, window_s)

    def _patch(self, presentation: Presentation) -> Patch:
        settings = self.plan.protocol.settings
        stimulus = settings.stimulus
        shrink = 1.0
        if presentation.role == "blind_spot":
            shrink = settings.blind_spot.target_diameter_deg / (2 * stimulus.outer_radius_deg)
        return Patch(
            Place(presentation.place.x_deg, presentation.place.y_deg),
            stimulus.full_radius_deg * shrink,
            stimulus.outer_radius_deg * shrink,
            stimulus.spatial_frequency_cpd,
            stimulus.orientation_deg,
            presentation.phase_deg,
        )


def _message_of(command: Command) -> Message:
    messages: dict[Command, Message] = {
        "stop": Stop(STOPPED),
        "hold": Hold("held by the operator"),
        "resume": Resume(),
        "skip_eye": SkipEye(),
        "explain": Hold(EXPLAINED),
    }
    return messages[command]
