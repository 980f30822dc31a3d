"""The runner: joins exam, window, button and journal for one sitting, new or taken up again."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from dataclasses import replace as dataclass_replace
from pathlib import Path

from msgspec.structs import replace

from analysis.reference import Reference
from calibration.certificate import Certificate, certificate_bytes
from calibration.geometry import Screen, refuse_off_screen
from calibration.transfer import srgb_nominal
from protocols.conduct import Record, conduct
from protocols.errors import InputError
from protocols.events import ButtonFacts, Closed, Display, Event
from protocols.exam import ExamState, open_exam
from protocols.field import Place
from protocols.folder import open_folder, require_new
from protocols.grating import FramePlan, frame_plan
from protocols.journal import Journal
from protocols.library import Protocol
from protocols.light import Light
from protocols.plan import ExamPlan
from stimulus.buttons import open_button, require_button
from stimulus.buttons.control_channel import ControlChannel, Together
from stimulus.buttons.interface import Button
from stimulus.buttons.key_listener import KeyListener
from stimulus.buttons.operator_keys import OperatorKeys
from stimulus.buttons.simulated import SimulatedButton
from stimulus.certified import (
    certified_latency_s,
    certified_line,
    refuse_faint,
    refuse_other_display,
    transfer_of,
)
from stimulus.clock import clock
from stimulus.display import display_line, light_of
from stimulus.display_lost import LOST, when_display_is_lost
from stimulus.lookouts import TerminalLookout
from stimulus.opening import Sitting, caution_line, make_plan, opened_line, waiver_lines
from stimulus.priority import first_in_line
from stimulus.stage import OperatorInput, WindowStage
from stimulus.streams.outlets import Outlets, exam_id
from stimulus.system_tables import read_output
from stimulus.window import StimulusWindow
from stimulus.words import Words, stopped, words_for


@dataclass(frozen=True)
class Setup:
    """Screen and button of a sitting; `full_screen` covers display number `display`.

    At `control` the exam takes commands from another program, such as the station. `language` is
    the window's, a bundled one or a file of one; None for the sitting's own.

    Raises InputError for a button that cannot be.
    """

    screen: Screen
    full_screen: bool
    button: str
    display: int = 0
    certificate: Certificate | None = None
    control: Path | None = None
    lsl: bool = False
    language: str | None = None

    def __post_init__(self) -> None:
        require_button(self.button)


@dataclass(frozen=True)
class Spoken:
    """How a sitting speaks: the window's words, the operator's initials, whether it waits for a

    press before each eye.
    """

    words: Words
    initials: str
    start_now: bool


@dataclass(frozen=True)
class Bench:
    """What is open while an exam runs."""

    window: StimulusWindow
    frames: FramePlan
    display: Display
    light: Light
    button: Button
    operator: OperatorInput
    outlets: Outlets | None = None


def run_exam(
    folder: Path, protocol: Protocol, reference: Reference, sitting: Sitting, setup: Setup
) -> ExamState:
    """Run a new exam into a folder that does not exist yet; returns the last state.

    Everything that can be refused is refused before the folder is made. Raises InputError.
    """
    require_ready(folder, protocol, sitting, setup)
    words = words_for(setup.language or sitting.language)
    sitting = dataclass_replace(sitting, language=words.language)
    with open_bench(protocol, setup, sitting.seed) as bench:
        latency_s = certified_latency_s(setup.certificate)
        plan = make_plan(protocol, reference, sitting, bench.light.delivery, latency_s)
        if setup.certificate is not None:
            refuse_faint(setup.certificate, plan.limits_db, protocol.name)
        button = button_facts(bench.button)
        first: tuple[Event, ...] = (
            opened_line(plan, reference, sitting, bench.light.delivery, button),
            bench.display,
            caution_line(plan, sitting, bench.display, bench.light),
            *waiver_lines(sitting),
        )
        origin_s = clock()
        journal = open_folder(
            folder,
            protocol,
            reference.text,
            first,
            lambda: clock() - origin_s,
            certificate=None if setup.certificate is None else certificate_bytes(setup.certificate),
        )
        who = Spoken(words, sitting.confirmed_by, sitting.start == "now")
        return play(plan, open_exam(plan), bench, journal, origin_s, who)


def require_ready(folder: Path, protocol: Protocol, sitting: Sitting, setup: Setup) -> None:
    """Raise InputError for what can be refused before a window is open; nothing is made."""
    require_new(folder)
    refuse_flash(protocol)
    refuse_off_screen(
        _places(protocol, sitting),
        protocol.settings.stimulus.outer_radius_deg,
        setup.screen,
        protocol.name,
    )


def button_facts(button: Button) -> ButtonFacts:
    """The button for the journal; some say how they were measured."""
    return ButtonFacts(button.name, button.resolution_s, getattr(button, "measured", ""))


def play(
    plan: ExamPlan,
    state: ExamState,
    bench: Bench,
    journal: Journal,
    origin_s: float,
    spoken: Spoken,
) -> ExamState:
    """Conduct an exam on an open bench, to its end or to an interruption."""
    with TerminalLookout(plan) as lookout, interruptions() as interrupted, first_in_line():
        stage = WindowStage(
            plan,
            bench.window,
            bench.frames,
            bench.light,
            bench.button,
            bench.operator,
            lookout,
            origin_s,
            spoken.start_now,
            interrupted,
            spoken.words,
            spoken.initials,
        )
        try:
            with when_display_is_lost(lambda: _end_without_display(journal, lookout)):
                return conduct(plan, state, stage, _record(journal, bench, origin_s))
        finally:
            journal.close()


def _record(journal: Journal, bench: Bench, origin_s: float) -> Record:
    return journal if bench.outlets is None else bench.outlets.beside(journal, origin_s)


def _end_without_display(journal: Journal, lookout: TerminalLookout) -> None:
    journal.append(Closed(LOST, "stopped"))
    journal.close()
    lookout.end()
    print(stopped(LOST, journal.folder), file=sys.stderr)


@contextmanager
def open_bench(protocol: Protocol, setup: Setup, seed: int) -> Iterator[Bench]:
    """Window, keys and button, opened in this order and closed in the other."""
    certificate = setup.certificate
    transfer = srgb_nominal() if certificate is None else transfer_of(certificate)
    with (
        _outlets(protocol, setup, seed) as outlets,
        StimulusWindow(setup.screen, transfer, setup.full_screen, setup.display, seed) as window,
    ):
        if certificate is not None:
            refuse_other_display(certificate, window.refresh, read_output(setup.display))
        with _listening(window) as keys, _button(setup, keys, seed) as button:
            frames = _frames(protocol, window)
            display = display_line(
                protocol, setup.screen, setup.full_screen, transfer, window.refresh, frames
            )
            display = replace(display, screen_number=setup.display)
            if certificate is not None:
                display = certified_line(display, certificate)
            light = light_of(protocol, display)
            with _operator(keys, setup.control) as operator:
                yield Bench(window, frames, display, light, button, operator, outlets)


@contextmanager
def _listening(window: StimulusWindow) -> Iterator[KeyListener]:
    """The keys of the window."""
    keys = KeyListener(window.xid)
    keys.start()
    with closing(keys):
        yield keys


@contextmanager
def _button(setup: Setup, keys: KeyListener, seed: int) -> Iterator[Button]:
    """The participant's button, started."""
    button = open_button(setup.button, keys)
    if isinstance(button, SimulatedButton):
        button.sit_down(seed)
    button.start()
    with closing(button):
        yield button


@contextmanager
def _outlets(protocol: Protocol, setup: Setup, seed: int) -> Iterator[Outlets | None]:
    """Marker streams for other recorders, if they are asked for."""
    if not setup.lsl:
        yield None
        return
    outlets = Outlets(exam_id(protocol.sha256, seed))
    try:
        yield outlets
    finally:
        outlets.close()


@contextmanager
def _operator(keys: KeyListener, control: Path | None) -> Iterator[OperatorInput]:
    """The operator's keys, and a channel for another program if one is asked for."""
    if control is None:
        yield OperatorKeys(keys)
        return
    channel = ControlChannel(control)
    try:
        yield Together([OperatorKeys(keys), channel])
    finally:
        channel.close()


def refuse_flash(protocol: Protocol) -> None:
    """Raise InputError for a stimulus over the flash guidance without an override's reason.

    Source: WCAG 2.2, 2.3.1, and ITU-R BT.1702.
    """
    from protocols.safety import assess, grating_flash

    stimulus = protocol.settings.stimulus
    facts = grating_flash(1.0, stimulus.outer_radius_deg, stimulus.flicker_hz, 0.0, 0.5, None)
    if assess(facts).over and not protocol.settings.safety.override_reason.strip():
        raise InputError(
            f"{protocol.name}, safety.override_reason",
            "",
            "a reason in words, since the patch flickers above the general-flash guidance",
            "Make the patch smaller than 5 degrees across, or state why it may be shown.",
        )


@contextmanager
def interruptions() -> Iterator[Callable[[], bool]]:
    """While inside, Ctrl-C and termination only raise a flag, so that the record is closed well."""
    caught: list[int] = []
    previous = {
        number: signal.signal(number, lambda n, _: caught.append(n))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield lambda: bool(caught)
    finally:
        for number, handler in previous.items():
            signal.signal(number, handler)


def _frames(protocol: Protocol, window: StimulusWindow) -> FramePlan:
    stimulus = protocol.settings.stimulus
    return frame_plan(
        stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, window.refresh.refresh_hz
    )


def _places(protocol: Protocol, sitting: Sitting) -> list[Place]:
    return [place for eye in sitting.eyes for place in protocol.pattern.for_eye(eye)]
