"""The log of a measurement: a first line that says whose it is, then one line a reading.

Each line is on disk before the next reading is asked for. A last line that a crash tore is cut
off, and its reading made again. While one program writes a log no other can.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import IO, Literal

import msgspec

from calibration.certificate import Identity, Instrument, ReadingLine
from protocols.errors import InputError, RecordStuck
from protocols.files import decode_json
from protocols.locking import held_by_another, in_use

NOTICE = "Research use only; not a diagnosis."
FIRST_BYTES = b'{"format":1,"notice":'
_OTHER = "Name another log to measure anew, or go on as this one was begun."


class Header(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Whose readings these are: plan, display, instrument."""

    format: Literal[1] = 1
    notice: str = NOTICE
    plan_sha256: str
    readings: int
    display: Identity
    instrument: Instrument
    begun_utc: str = ""


class LogLine(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One reading: its place in the plan, what was shown, mean and repeats in cd/m2, wall clock."""

    n: int
    channel: str
    code: int
    cd_m2: float
    repeats_cd_m2: list[float]
    utc: str

    @property
    def reading(self) -> ReadingLine:
        """The same as the certificate keeps it."""
        return ReadingLine(channel=self.channel, code=self.code, cd_m2=self.cd_m2)


@dataclass
class ReadingLog:
    """A log open for writing, and the lines it holds."""

    path: Path
    file: IO[bytes]
    lines: dict[int, LogLine]

    def append(self, line: LogLine) -> None:
        """Write a line and wait until it is on disk; raises RecordStuck."""
        write_line(self.file, line, self.path)
        self.lines[line.n] = line

    def close(self) -> None:
        """Let go of the log."""
        self.file.close()


def utc_now() -> str:
    """Wall clock as ISO 8601 in UTC, whole seconds."""
    return datetime.now(timezone.utc).isoformat(timespec="seconds")


def open_log(path: Path, header: Header) -> ReadingLog:
    """Begin a log, or go on with the one that is there.

    Raises InputError if it belongs to another plan, display or instrument, is in use, or cannot
    be written.
    """
    try:
        file = open(path, "a+b", buffering=0)  # noqa: SIM115
    except OSError as error:
        raise InputError(
            "log", str(path), "a file that can be written", f"The system says: {error.strerror}."
        ) from None
    try:
        _lock(file, path)
        return ReadingLog(path, file, _resumed(file, path, header))
    except BaseException:
        file.close()
        raise


def read_log(path: Path) -> tuple[Header, list[LogLine]]:
    """Header and readings of a log in the plan's order; raises InputError for a broken one."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(
            "log", str(path), "a log of readings", f"The system says: {error.strerror}."
        ) from None
    header, lines = _parsed(_whole_lines(content), path)
    return header, [lines[n] for n in sorted(lines)]


def write_line(file: IO[bytes], line: msgspec.Struct, path: Path) -> None:
    """Write one JSON line and wait until it is on disk; raises RecordStuck."""
    text = memoryview(msgspec.json.encode(line) + b"\n")
    try:
        while text:
            text = text[file.write(text) :]
        os.fsync(file.fileno())
    except OSError as error:
        raise RecordStuck(
            f"{path}: the log cannot be written on. The system says: {error.strerror}. What was "
            "measured is kept. Make room or mend the disk; the same command measures the rest."
        ) from None


def _resumed(file: IO[bytes], path: Path, header: Header) -> dict[int, LogLine]:
    """Readings of a log; whatever is no log of ours is refused before anything is changed."""
    file.seek(0)
    content = file.read()
    whole = content.rfind(b"\n") + 1
    if not whole and FIRST_BYTES.startswith(content[: len(FIRST_BYTES)]):
        file.truncate(0)
        write_line(file, msgspec.structs.replace(header, begun_utc=utc_now()), path)
        return {}
    found, lines = _parsed(_whole_lines(content) or [content], path)
    _refuse_other(found, header, path)
    file.truncate(whole)
    return lines


def _whole_lines(content: bytes) -> list[bytes]:
    return content[: content.rfind(b"\n") + 1].splitlines()


def _parsed(texts: Sequence[bytes], path: Path) -> tuple[Header, dict[int, LogLine]]:
    if not texts:
        raise InputError("log", str(path), "a log of readings", "It is empty: measure again.")
    header = decode_json(Header, texts[0], f"{path}, line 1")
    lines = [
        decode_json(LogLine, text, f"{path}, line {number}")
        for number, text in enumerate(texts[1:], start=2)
    ]
    return header, {line.n: line for line in lines}


def _refuse_other(found: Header, wanted: Header, path: Path) -> None:
    if found.plan_sha256 != wanted.plan_sha256:
        raise InputError(
            f"{path}, plan",
            f"{found.plan_sha256[:12]}...",
            f"{wanted.plan_sha256[:12]}..., the plan to measure",
            _OTHER,
        )
    for what in ("display", "instrument"):
        _refuse_difference(what, getattr(found, what), getattr(wanted, what), path)


def _refuse_difference(what: str, found: object, wanted: object, path: Path) -> None:
    ours = msgspec.to_builtins(wanted)
    for key, value in msgspec.to_builtins(found).items():
        if ours[key] != value:
            raise InputError(f"{path}, {what}.{key}", str(value), f"{ours[key]}, as now", _OTHER)


def _lock(file: IO[bytes], path: Path) -> None:
    if held_by_another(file):
        raise in_use("log", str(path), "a log that no other program is writing")
