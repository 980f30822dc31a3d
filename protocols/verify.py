"""Is this journal what was written? Streams line by line and names every fault it finds."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from protocols.errors import InputError
from protocols.files import sha256_hex
from protocols.journal import FIRST_PREV, HEAD, JOURNAL, Head, Line, decode_line, open_journal


@dataclass
class Verification:
    """What was found. `lines` counts whole lines, `torn_bytes` what follows the last of them."""

    folder: str
    lines: int = 0
    torn_bytes: int = 0
    closed: bool = False
    problems: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Whether nothing was changed, lost or reordered."""
        return not self.problems


def verify(folder: Path) -> Verification:
    """Check an exam's journal; raises InputError where there is none."""
    found = Verification(folder.name)
    prev = FIRST_PREV
    with open_journal(folder) as file:
        for text in file:
            if not text.endswith(b"\n"):
                found.torn_bytes = len(text)
                break
            _check_line(found, text[:-1], prev)
            prev = sha256_hex(text[:-1])
            found.lines += 1
    _check_head(found, folder, prev)
    return found


def _check_line(found: Verification, text: bytes, prev: str) -> None:
    number = found.lines + 1
    try:
        line = msgspec.json.decode(text, type=Line)
        entry = decode_line(text, f"line {number}")
    except (msgspec.DecodeError, UnicodeDecodeError, InputError):
        found.problems.append(f"line {number} is not a journal line: it was changed")
        return
    if line.prev != prev:
        found.problems.append(
            f"line {number} does not follow line {number - 1}: a line was changed, lost or moved"
        )
    if line.n != found.lines:
        found.problems.append(f"line {number} bears number {line.n}, expected {found.lines}")
    found.closed = line.kind == "closed"
    if (line.kind == "opened") != (entry.n == 0):
        found.problems.append(f"line {number} is of kind {line.kind} where it cannot stand")


def _check_head(found: Verification, folder: Path, last_hash: str) -> None:
    path = folder / HEAD
    if not path.is_file():
        if found.closed:
            found.problems.append(f"{HEAD} is missing although {JOURNAL} is closed")
        return
    try:
        head = msgspec.json.decode(path.read_bytes(), type=Head)
    except (msgspec.DecodeError, UnicodeDecodeError):
        found.problems.append(f"{HEAD} is not readable: it was changed")
        return
    last = found.lines - 1
    if head.n > last:
        found.problems.append(f"{head.n - last} line(s) were lost after line {found.lines}")
    elif head.n == last and head.sha256 != last_hash:
        found.problems.append(f"line {found.lines} was changed")
    elif head.n < last and found.closed:
        found.problems.append(f"{last - head.n} line(s) were added after line {head.n + 1}")
