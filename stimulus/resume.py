"""Taking an exam up again: from its record to the state it was in, on the same display."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from calibration.certificate import Certificate, read_certificate
from calibration.geometry import Screen
from protocols.errors import InputError
from protocols.events import Closed, Display, Held, Opened, Resumed
from protocols.exam import ExamState, take
from protocols.files import read_text
from protocols.folder import CERTIFICATE
from protocols.journal import Entry, Journal, read, require_not_running
from protocols.library import Protocol, parse_protocol
from protocols.messages import Hold, Resume
from protocols.plan import ExamPlan
from protocols.replay import plan_from, replay
from protocols.verify import verify
from stimulus.clock import clock
from stimulus.runner import Bench, Setup, open_bench, play

TAKEN_UP = "the exam is taken up again"
DELIVERY_TOLERANCE = 0.005


@dataclass(frozen=True)
class Unfinished:
    """An exam that can go on."""

    folder: Path
    protocol: Protocol
    plan: ExamPlan
    opened: Opened
    display: Display
    state: ExamState
    last_s: float
    lines: int


def load_unfinished(folder: Path) -> Unfinished:
    """Read, verify and replay a record; raises InputError if it cannot go on, and says why."""
    require_not_running(folder)
    found = verify(folder)
    if not found.sound:
        raise InputError(
            "--resume",
            str(folder),
            "a record that was not changed",
            f"ripplefield verify says: {found.problems[0]}.",
        )
    entries = list(read(folder))
    opened, display = _opening(folder, entries)
    protocol = parse_protocol(
        read_text(folder / "protocol.toml", "--resume"),
        "protocol.toml",
        folder,
        read_text(folder / "pattern.toml", "--resume"),
    )
    plan = plan_from(opened, protocol)
    state = replay(plan, (entry.event for entry in entries))
    if state.phase == "finished" and isinstance(entries[-1].event, Closed):
        raise InputError(
            "--resume",
            str(folder),
            "an exam that is not finished",
            f"Nothing is left to do: ripplefield grade {folder}",
        )
    _refuse_virtual(folder, display)
    return Unfinished(folder, protocol, plan, opened, display, state, entries[-1].t_s, len(entries))


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
    with open_bench(exam.protocol, setup, exam.plan.seed) as bench:
        _refuse_other_display(exam, bench)
        origin_s = clock() - exam.last_s
        journal, set_aside = Journal.reopen(exam.folder, lambda: clock() - origin_s)
        _refuse_grown(exam, journal)
        state = _taken_up(exam, journal, set_aside, start_now)
        journal.append(bench.display)
        journal.sync()
        return play(exam.plan, state, bench, journal, origin_s, start_now)


def _taken_up(
    exam: Unfinished, journal: Journal, set_aside: str | None, start_now: bool
) -> ExamState:
    """Back from a stop or a crash; in mid-eye into a hold that the participant's press ends."""
    state = exam.state
    stopped = state.phase == "stopped"
    journal.append(Resumed("stopped" if stopped else "crash", set_aside))
    if stopped:
        state = take(exam.plan, state, Resume())
    if state.phase in ("practising", "testing") and not start_now:
        journal.append(Held(TAKEN_UP))
        state = take(exam.plan, state, Hold(TAKEN_UP))
    return state


def _refuse_grown(exam: Unfinished, journal: Journal) -> None:
    """Another program may have gone on with the exam while the window was opened here."""
    if journal.next_n != exam.lines:
        raise InputError(
            "--resume",
            str(exam.folder),
            f"a record of {exam.lines} lines, as a moment ago",
            "Another program went on with it; look at the record, then try again.",
        )


def _refuse_other_display(exam: Unfinished, bench: Bench) -> None:
    if abs(bench.light.delivery / exam.opened.delivery - 1) > DELIVERY_TOLERANCE:
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


def _opening(folder: Path, entries: list[Entry]) -> tuple[Opened, Display]:
    events = [entry.event for entry in entries]
    opened = next((e for e in events if isinstance(e, Opened)), None)
    display = next((e for e in events if isinstance(e, Display)), None)
    if opened is None or display is None:
        raise InputError(
            "--resume",
            str(folder),
            "a record with its first lines",
            "The exam ended before it began; start a new one.",
        )
    return opened, display
