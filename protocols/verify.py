"""Is this journal what was written? Streams line by line and names every fault it finds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import msgspec

from protocols.errors import InputError
from protocols.files import UNREADABLE_JSON, sha256_hex
from protocols.journal import (
    FIRST_PREV,
    HEAD,
    JOURNAL,
    Head,
    Line,
    format_of,
    open_journal,
    split_line,
    steps_of,
    typed,
)
from protocols.migrate import Step

STEPPED_S = 2.0
"""How far the wall clock may drift from the journal's own between two lines before it is noted."""
MAY_FOLLOW_CLOSED = ("resumed", "corrected")
"""Lines written another time, by a wall clock that has gone on meanwhile."""


@dataclass
class Verification:
    """What was found. `lines` counts whole lines, `torn_bytes` what follows the last of them.

    `unconfirmed` counts whole lines after the one that the head names: written by a program that
    was cut off before it could confirm them. `notes` are no faults: the wall clock was stepped.
    """

    folder: str
    lines: int = 0
    torn_bytes: int = 0
    unconfirmed: int = 0
    closed: bool = False
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Whether nothing was changed, lost or reordered."""
        return not self.problems


@dataclass
class _Walk:
    """Where the check has come to: hash of the line before, and what the head is held against.

    What may not follow the close that the head confirms was `added`.
    """

    head: Head | None
    prev: str = FIRST_PREV
    at_head: str = ""
    closed_at_head: bool = False
    added: bool = False
    steps: Sequence[Step] = ()
    before: Line | None = None


def require_sound(found: Verification, parameter: str, folder: Path) -> None:
    """Raise InputError, with the first fault, for a record that was changed."""
    if not found.sound:
        raise InputError(
            parameter,
            str(folder),
            "a record that was not changed",
            f"ripplefield verify says: {found.problems[0]}.",
        )


def verify(folder: Path) -> Verification:
    """Check an exam's journal; raises InputError where there is none or it is from the future."""
    found = Verification(folder.name)
    with open_journal(folder) as file:
        walk = _Walk(_read_head(found, folder))
        for text in file:
            if not text.endswith(b"\n"):
                found.torn_bytes = len(text)
                break
            _check_line(found, walk, text[:-1], folder)
    if walk.head is not None:
        _check_head(found, walk, walk.head)
    elif found.closed and not (folder / HEAD).is_file():
        found.problems.append(f"{HEAD} is missing although {JOURNAL} is closed")
    return found


def _check_line(found: Verification, walk: _Walk, text: bytes, folder: Path) -> None:
    prev, walk.prev = walk.prev, sha256_hex(text)
    found.lines += 1
    _judge_line(found, walk, text, prev, folder)
    if walk.head is not None and found.lines == walk.head.n + 1:
        walk.at_head, walk.closed_at_head = walk.prev, found.closed
    if walk.head is not None and found.lines == walk.head.n + 2:
        kind = walk.before.kind if walk.before is not None else ""
        walk.added = walk.closed_at_head and kind not in MAY_FOLLOW_CLOSED


def _judge_line(
    found: Verification, walk: _Walk, text: bytes, prev: str, folder: Path
) -> None:
    number = found.lines
    line = _read_line(found, walk, text, folder)
    if line is None:
        found.problems.append(f"line {number} is not a journal line: it was changed")
        return
    if line.prev != prev:
        found.problems.append(
            f"line {number} does not follow line {number - 1}: a line was changed, lost or moved"
        )
    if line.n != number - 1:
        found.problems.append(f"line {number} bears number {line.n}, expected {number - 1}")
    found.closed = line.kind == "closed" or (found.closed and line.kind == "corrected")
    if (line.kind == "opened") != (line.n == 0):
        found.problems.append(f"line {number} is of kind {line.kind} where it cannot stand")
    _note_clock(found, walk.before, line)
    walk.before = line


def _read_line(found: Verification, walk: _Walk, text: bytes, folder: Path) -> Line | None:
    """The line, None if it is not one; raises InputError for a journal from the future."""
    try:
        line = split_line(text, "")
    except InputError:
        return None
    if found.lines == 1 and format_of(line)[0] is not None:
        walk.steps = steps_of(line, f"{folder.name}/{JOURNAL}")
    try:
        typed(line, "", walk.steps)
    except InputError:
        return None
    return line


def _note_clock(found: Verification, before: Line | None, line: Line) -> None:
    """The wall clock is for people; the journal's own times run on whatever it does."""
    if before is None or line.kind in MAY_FOLLOW_CLOSED:
        return
    try:
        passed_s = (_moment(line.utc) - _moment(before.utc)).total_seconds()
    except ValueError:
        found.problems.append(f"line {found.lines} has no date and time: it was changed")
        return
    stepped_s = passed_s - (line.t_s - before.t_s)
    if abs(stepped_s) > STEPPED_S:
        found.notes.append(
            f"the wall clock stepped by {stepped_s:+.0f} s before line {found.lines}; "
            "t_s, onsets and response times are by another clock and not touched"
        )


def _moment(utc: str) -> datetime:
    moment = datetime.fromisoformat(utc.removesuffix("Z"))
    if moment.tzinfo is not None or not utc.endswith("Z"):
        raise ValueError(utc)
    return moment


def _read_head(found: Verification, folder: Path) -> Head | None:
    path = folder / HEAD
    if not path.is_file():
        return None
    content = path.read_bytes()
    try:
        head = msgspec.json.decode(content, type=Head)
    except UNREADABLE_JSON:
        found.problems.append(f"{HEAD} is not readable: it was changed")
        return None
    if content != msgspec.json.encode(head) + b"\n":
        found.problems.append(f"{HEAD} is not as it was written: it was changed")
    return head


def _check_head(found: Verification, walk: _Walk, head: Head) -> None:
    last = found.lines - 1
    if head.n > last:
        found.problems.append(f"{head.n - last} line(s) were lost after line {found.lines}")
        return
    if head.sha256 != walk.at_head:
        found.problems.append(f"line {head.n + 1} was changed")
    found.unconfirmed = last - head.n
    if walk.added:
        found.problems.append(f"{last - head.n} line(s) were added after line {head.n + 1}")
