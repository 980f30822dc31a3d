"""Putting a wrong entry right: a line of its own at the end of the journal, never a changed one."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from analysis.grade import grade_folder
from protocols.codes import require_code, require_initials
from protocols.errors import InputError
from protocols.events import Corrected, Opened
from protocols.journal import Journal, read, require_not_running
from protocols.verify import verify

What = Literal["code", "eye"]
OTHER_EYE = {"right": "left", "left": "right"}


def correct(folder: Path, what: What, now: str, by: str) -> Corrected:
    """Append a `corrected` line to a record that nobody is writing; the result is made anew.

    A code then stands corrected everywhere. A wrong eye cannot be put right in the numbers, since
    targets on the blind spot lay on the wrong side: the record says so, and a repeat is advised.
    Raises InputError for a code that may be a name, and for a record that was changed.
    """
    require_not_running(folder)
    _require_sound(folder)
    entries = list(read(folder))
    line = Corrected(what, _was(folder, what), _checked(what, now), require_initials(by))
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


def _was(folder: Path, what: What) -> str:
    entries = [entry.event for entry in read(folder)]
    before = [e.now for e in entries if isinstance(e, Corrected) and e.what == what]
    opened = next(e for e in entries if isinstance(e, Opened))
    return before[-1] if before else (
        opened.participant if what == "code" else " and ".join(opened.eyes)
    )


def _checked(what: What, now: str) -> str:
    if what == "code":
        return require_code(now)
    if now not in ("right", "left", "left and right swapped"):
        allowed = "right, left, left and right swapped"
        raise InputError("eye", now, allowed, "Choose the eye that was tested in truth.")
    return now


def _require_sound(folder: Path) -> None:
    found = verify(folder)
    if not found.sound:
        raise InputError(
            "exam", folder.name, "a record that was not changed", f"{found.problems[0]}."
        )
