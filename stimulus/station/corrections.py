"""Putting a wrong entry right: a line of its own at the end of the journal, never a changed one."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from analysis.grade import grade_folder
from protocols.codes import require_code, require_initials
from protocols.errors import InputError
from protocols.events import AS_ENTERED, SWAPPED, Corrected, Opened
from protocols.journal import Entry, Journal, read, require_not_running
from protocols.verify import verify

What = Literal["code", "eye"]


def correct(folder: Path, what: What, now: str, by: str) -> Corrected:
    """Append a `corrected` line to a record that nobody is writing; the result is made anew.

    A code then stands corrected everywhere; the folder keeps its name. A wrong eye is graded as the
    eye that was tested in truth (`analysis.corrected`); the gaze was not checked then, so a repeat
    is advised.
    Raises InputError for a code that may be a name, and for a record that was changed.
    """
    require_not_running(folder)
    _require_sound(folder)
    entries = list(read(folder))
    opened = next(e.event for e in entries if isinstance(e.event, Opened))
    now = require_code(now) if what == "code" else _true_eye(opened, now)
    line = Corrected(what, _was(opened, entries, what), now, require_initials(by))
    if line.was == line.now:
        raise InputError(what, now, f"something else than {line.was}", "Nothing is to be changed.")
    last_s = entries[-1].t_s
    journal, _ = Journal.reopen(folder, lambda: last_s)
    journal.append(line)
    journal.close()
    grade_folder(folder)
    return line


def corrections_of(folder: Path) -> list[Corrected]:
    """All corrections of a record, in order."""
    return [entry.event for entry in read(folder) if isinstance(entry.event, Corrected)]


def _was(opened: Opened, entries: Sequence[Entry], what: What) -> str:
    events = [entry.event for entry in entries]
    before = [e.now for e in events if isinstance(e, Corrected) and e.what == what]
    if before:
        return before[-1]
    if what == "code":
        return opened.participant
    return opened.eyes[0] if len(opened.eyes) == 1 else AS_ENTERED


def eyes_to_choose(eyes: Sequence[str]) -> tuple[str, ...]:
    """What a correction may say of the eye or eyes of an exam."""
    return ("right", "left") if len(eyes) == 1 else (SWAPPED, AS_ENTERED)


def _true_eye(opened: Opened, now: str) -> str:
    allowed = eyes_to_choose(opened.eyes)
    if now not in allowed:
        todo = "Choose the eye that was tested in truth."
        raise InputError("eye", now, ", ".join(allowed), todo)
    return now


def _require_sound(folder: Path) -> None:
    found = verify(folder)
    if not found.sound:
        raise InputError(
            "exam", folder.name, "a record that was not changed", f"{found.problems[0]}."
        )
