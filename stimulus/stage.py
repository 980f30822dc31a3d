"""The real stage: a window, a button and the operator's keys behind the exam's small interface."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Protocol

from msgspec.structs import replace

from protocols.answers import judge
from protocols.conduct import Settled, Shown
from protocols.exam import ExamState, practice_open
from protocols.field import Place
from protocols.grating import FramePlan, Patch
from protocols.light import Light, presented_line
from protocols.messages import (
    Advise,
    Begin,
    Hold,
    Message,
    Resume,
    Stop,
    Wait,
    WaivePractice,
)
from protocols.plan import ExamPlan
from protocols.practice import NOBODY, still_due
from protocols.presentation import Presentation
from stimulus.asked import EXPLAINED, STOPPED, Moment, message_of, while_shown
from stimulus.buttons.interface import Button, ButtonLost
from stimulus.buttons.operator_keys import Command
from stimulus.buttons.simulated import BEGIN_AFTER_S, SimulatedButton
from stimulus.clock import clock
from stimulus.feedback import Feedback
from stimulus.refresh_watch import other_rate_hz, rate_changed
from stimulus.stillness import HOLDS_S, SPOILS_S, Stillness, stood_still
from stimulus.window import StimulusWindow, WindowGone
from stimulus.words import Words, words_for

POLL_S = 0.002
RECOVER_EVERY_S = 0.5
FEEDBACK_S = 0.7
FEEDBACK_GONE_S = 0.3
"""How long a practice answer's feedback stays, and the least quiet time after it; assumptions."""
NOTHING_SPECIAL = Moment()
CLOSED = "the stimulus window was closed"


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
    """A stage for `conduct`. `origin_s` is the shared clock at the journal's zero.

    `initials` are the operator's: who waives a practice, and confirmed the caution.
    """

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
    words: Words = field(default_factory=words_for)
    initials: str = ""
    _presses: list[float] = field(default_factory=list)
    _asked: Message | None = None
    _quiet_until: float = 0.0
    _onset_s: float = 0.0
    _showing: bool = False
    _cautioned: bool = False
    _moment: Moment = NOTHING_SPECIAL
    _stillness: Stillness = field(default_factory=Stillness)

    def now_s(self) -> float:
        """Seconds on the journal's clock."""
        return clock() - self.origin_s

    def show(self, presentation: Presentation) -> Shown:
        """Show a patch at the end of the quiet time and wait until its answer window closes."""
        self._showing, self._moment = True, while_shown(presentation.practice)
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
        """Wait out the quiet gap; presses in it still belong to this presentation.

        In practice the participant is told of the answer meanwhile.
        """
        self._take_presses()
        if presentation.practice:
            with suppress(WindowGone):  # the next thing shown says so
                self._tell_of_answer()
        self._wait_until(self._quiet_until)
        self._take_presses()
        return Settled([t - self._onset_s for t in self._presses], self._ask())

    def _tell_of_answer(self) -> None:
        """Say beside the mark what the answer was, and be quiet again before the next target."""
        window = self.plan.protocol.settings.answering
        times = [t - self._onset_s - self.plan.latency_s for t in self._presses]
        verdict = judge(times, window.accept_from_s, window.accept_until_s).verdict
        told_s = self.window.feedback(
            Feedback(verdict, self.words.feedback(verdict), self.words.right_to_left)
        )
        self._wait_until(told_s + FEEDBACK_S)
        gone_s = self.window.quiet()
        self._quiet_until = max(self._quiet_until, gone_s + FEEDBACK_GONE_S)

    def wait(self, wait: Wait, state: ExamState) -> Message:
        """Rest, hold, or wait for the press that begins an eye, or for the operator."""
        self._showing = False
        self._moment = Moment(
            wait.what == "hold", practice_open(self.plan, state), wait.what == "practice"
        )
        try:
            return self._waited(wait, state)
        except WindowGone as gone:
            return Stop(str(gone))

    def _waited(self, wait: Wait, state: ExamState) -> Message:
        if wait.what == "hold":
            return self._wait_through_hold(state)
        if wait.what == "practice":
            return self._wait_for_practice()
        if wait.what == "rest":
            self._message(self.words.while_resting(state.eye.eye))
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
            self._message(self.words.finished())

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
        if state.phase == "ready" and not self._cautioned:
            self._message(self.words.before_session())
            answer = self._wait_for_press(Begin())
            if not isinstance(answer, Begin):
                return answer
            self._cautioned = True
        self._message(self.words.before_eye(state.eye.eye, self._practises(state)))
        return self._wait_for_press(Begin())

    def _practises(self, state: ExamState) -> bool:
        return still_due(self.plan, state.practice, state.phase == "ready")

    def _wait_for_practice(self) -> Message:
        """Until the operator repeats the practice or waives it; nobody does for a simulation."""
        self.lookout.say("Explain the task again; then repeat the practice: p, or waive it: w.")
        self._message(self.words.while_practice_waits())
        message: Message = WaivePractice(NOBODY)
        if isinstance(self.button, SimulatedButton):
            self._rest(BEGIN_AFTER_S)
            message = self._ask() or message
        else:
            message = self._wait_for_operator()
        self._begin_quiet(self.plan.protocol.settings.foreperiod.lead_in_s)
        return message

    def _wait_for_operator(self) -> Message:
        while True:
            self._pause()
            self._take_presses()
            asked = self._ask()
            if asked is not None:
                return asked

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
        eye = state.eye.eye
        self._message(self.words.again(eye) if again else self.words.while_held(reason))
        message = self._wait_for_button() or self._wait_for_press(Resume())
        while isinstance(message, Hold):  # lost, or lost again
            message = self._wait_for_button() or self._wait_for_press(Resume())
        self._moment = NOTHING_SPECIAL
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
        small_print = self.words.window.research_only
        self.window.message(lines, small_print, self.words.right_to_left)

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
        try:
            for command in self.operator.commands():
                if self._moment.heeds(command):
                    self._asked = self._asked or message_of(command, self.initials)
        except ButtonLost:  # the keys are the window's: it is gone, or the whole display is
            self.window.wait_for_display()
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
