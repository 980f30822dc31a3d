"""An exam that can go on: its record verified and replayed to the state it was in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from protocols.errors import InputError
from protocols.events import Caution, Closed, Corrected, Display, Held, Opened, Resumed
from protocols.exam import ExamState, take
from protocols.files import read_text
from protocols.journal import Entry, Journal, first_format, read, require_not_running
from protocols.library import Protocol, parse_protocol
from protocols.messages import Hold, Resume
from protocols.migrate import current
from protocols.plan import ExamPlan
from protocols.replay import plan_from, replay
from protocols.verify import require_sound, verify

TAKEN_UP = "the exam is taken up again"


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
    initials: str


def load_record(folder: Path) -> Unfinished:
    """Read, verify and replay a record; raises InputError if it cannot go on, and says why."""
    require_not_running(folder)
    require_sound(verify(folder), "--resume", folder)
    _require_todays_format(folder)
    entries = list(read(folder))
    _refuse_corrected_eye(folder, entries)
    opened, display, caution = _opening(folder, entries)
    protocol = parse_protocol(
        read_text(folder / "protocol.toml", "--resume"),
        "protocol.toml",
        folder,
        read_text(folder / "pattern.toml", "--resume"),
    )
    plan = plan_from(opened, protocol)
    state = replay(plan, (entry.event for entry in entries))
    if state.phase == "finished" and _is_closed(entries):
        raise InputError(
            "--resume",
            str(folder),
            "an exam that is not finished",
            f"Nothing is left to do: ripplefield grade {folder}",
        )
    last_s, lines = entries[-1].t_s, len(entries)
    return Unfinished(
        folder, protocol, plan, opened, display, state, last_s, lines, caution.confirmed_by
    )


def _refuse_corrected_eye(folder: Path, entries: list[Entry]) -> None:
    """Going on would show the other eye's places and blind spot."""
    said = [e.event for e in entries if isinstance(e.event, Corrected) and e.event.what == "eye"]
    if said:
        raise InputError(
            "--resume",
            str(folder),
            "an exam whose eye was entered rightly",
            f"Its eye was corrected by {said[-1].by}; start a new exam.",
        )


def _is_closed(entries: list[Entry]) -> bool:
    """Whether the record's last word is its close; corrections may follow it."""
    said = [entry.event for entry in entries if not isinstance(entry.event, Corrected)]
    return isinstance(said[-1], Closed)


def taken_up(
    exam: Unfinished, journal: Journal, set_aside: str | None, start_now: bool
) -> ExamState:
    """Back from a stop or a crash; in mid-eye into a hold that the participant's press ends."""
    refuse_grown(exam, journal)
    state = exam.state
    stopped = state.phase == "stopped"
    journal.append(Resumed("stopped" if stopped else "crash", set_aside))
    if stopped:
        state = take(exam.plan, state, Resume())
    if state.phase in ("practising", "testing") and not start_now:
        journal.append(Held(TAKEN_UP))
        state = take(exam.plan, state, Hold(TAKEN_UP))
    return state


def refuse_grown(exam: Unfinished, journal: Journal) -> None:
    """Another program may have gone on with the exam while the window was opened here."""
    if journal.next_n != exam.lines:
        raise InputError(
            "--resume",
            str(exam.folder),
            f"a record of {exam.lines} lines, as a moment ago",
            "Another program went on with it; look at the record, then try again.",
        )


def _require_todays_format(folder: Path) -> None:
    """An old journal is read and graded; lines of today's form do not go into it."""
    number = first_format(folder)
    if number is not None and number != current("journal"):
        raise InputError(
            "--resume",
            f"a journal of format {number}",
            f"format {current('journal')}, which this version writes",
            "It can be read and graded, not gone on with; start a new exam.",
        )


def _opening(folder: Path, entries: list[Entry]) -> tuple[Opened, Display, Caution]:
    events = [entry.event for entry in entries]
    opened = next((e for e in events if isinstance(e, Opened)), None)
    display = next((e for e in events if isinstance(e, Display)), None)
    caution = next((e for e in events if isinstance(e, Caution)), None)
    if opened is None or display is None or caution is None:
        raise InputError(
            "--resume",
            str(folder),
            "a record with its first lines",
            "The exam ended before it began; start a new one.",
        )
    return opened, display, caution
