"""Taking an exam up again: from its record to the state it was in, on the same display."""

from __future__ import annotations

from pathlib import Path

from calibration.certificate import Certificate, read_certificate
from calibration.geometry import Screen
from protocols.errors import InputError
from protocols.events import Display
from protocols.exam import ExamState
from protocols.folder import CERTIFICATE
from protocols.journal import Journal
from stimulus.clock import clock
from stimulus.runner import Bench, Setup, Spoken, open_bench, play
from stimulus.unfinished import Unfinished, load_record, taken_up
from stimulus.words import words_for

DELIVERY_TOLERANCE = 0.005
REFRESH_TOLERANCE = 0.01


def load_unfinished(folder: Path) -> Unfinished:
    """The record of an exam that was run in a window and can go on; raises InputError."""
    exam = load_record(folder)
    _refuse_virtual(folder, exam.display)
    return exam


def setup_of(exam: Unfinished, button: str | None) -> Setup:
    """The display and button the exam was opened with; another button may be named."""
    shown = exam.display
    screen = Screen(
        shown.width_px,
        shown.height_px,
        shown.width_cm,
        shown.height_cm,
        shown.distance_cm,
        shown.fixation_x_cm,
        shown.fixation_y_cm,
    )
    return Setup(
        screen,
        shown.full_screen,
        button or _button_of(exam),
        shown.screen_number,
        _certificate_of(exam),
    )


def _certificate_of(exam: Unfinished) -> Certificate | None:
    """The certificate the exam was opened with, from its folder."""
    wanted = exam.display.certificate_sha256
    if wanted is None:
        return None
    found = read_certificate(exam.folder / CERTIFICATE)
    if found.sha256 != wanted:
        raise InputError(
            f"{exam.folder / CERTIFICATE}",
            f"SHA-256 {found.sha256[:12]}...",
            f"{wanted[:12]}..., the one in the journal",
            "Restore the file that the exam was opened with.",
        )
    return found


def _button_of(exam: Unfinished) -> str:
    """The button of the first sitting; a record holds no folders, so an observer may be missing."""
    name = exam.opened.button.name
    kind, _, detail = name.partition(":")
    if kind == "simulated" and not Path(detail).is_file():
        raise InputError(
            "--button",
            "",
            f"the button, since {detail} of the first sitting is not in this folder",
            f"Add --button simulated:PATH/{detail}",
        )
    return name


def resume_exam(exam: Unfinished, setup: Setup, start_now: bool) -> ExamState:
    """Go on with an exam to its end; returns the last state."""
    words = words_for(setup.language or exam.opened.language)
    with open_bench(exam.protocol, setup, exam.plan.seed) as bench:
        _refuse_other_display(exam, bench)
        origin_s = clock() - exam.last_s
        journal, set_aside = Journal.reopen(exam.folder, lambda: clock() - origin_s)
        state = taken_up(exam, journal, set_aside, start_now)
        journal.append(bench.display)
        journal.sync()
        spoken = Spoken(words, exam.initials, start_now)
        return play(exam.plan, state, bench, journal, origin_s, spoken)


def _refuse_other_display(exam: Unfinished, bench: Bench) -> None:
    if exam.display.display_locked and not bench.display.display_locked:
        raise InputError(
            "display",
            "flips that do not wait for it",
            "flips in step with the display, as when the exam was opened",
            "Close other programs and set the display back, or start a new exam.",
        )
    delivery = bench.light.delivery / exam.opened.delivery
    refresh = bench.display.refresh_hz / exam.display.refresh_hz
    if abs(delivery - 1) > DELIVERY_TOLERANCE or abs(refresh - 1) > REFRESH_TOLERANCE:
        raise InputError(
            "display",
            f"{bench.display.refresh_hz:.2f} Hz",
            f"{exam.display.refresh_hz:.2f} Hz, as when the exam was opened",
            "Set the display back, or start a new exam.",
        )


def _refuse_virtual(folder: Path, display: Display) -> None:
    if display.simulated:
        raise InputError(
            "--resume",
            str(folder),
            "an exam that was run in a window",
            "This one ran on a virtual clock; run it anew.",
        )
