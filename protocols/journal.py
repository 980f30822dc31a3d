"""The journal: an append-only file of events, each line chained to the one before it.

A line is {"n", "t_s", "utc", "kind", "data", "prev"}: sequence number, monotonic seconds since the
exam was opened, wall clock, kind, data, SHA-256 of the previous line. Beside it `journal.head`
holds the number and SHA-256 of the last line that was safely on disk, so that a change in the last
line, or its loss, shows too.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import IO, Any

import msgspec

from protocols.errors import InputError, RecordStuck
from protocols.events import KINDS, Event, kind_of
from protocols.files import UNREADABLE_JSON, sha256_hex
from protocols.locking import held_by_another, in_use
from protocols.migrate import Step, number_of, steps_from, written_by
from protocols.write import sync_folder, write_whole

JOURNAL = "journal.jsonl"
HEAD = "journal.head"
FIRST_PREV = "0" * 64


class Line(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One journal line with its data still undecoded."""

    n: int
    t_s: float
    utc: str
    kind: str
    data: msgspec.Raw
    prev: str


class Head(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Number and SHA-256 of the last line on disk."""

    n: int
    sha256: str


@dataclass(frozen=True)
class Entry:
    """A decoded line: its number, monotonic and wall time, and typed event."""

    n: int
    t_s: float
    utc: str
    event: Event


def utc_now() -> str:
    """Wall clock as ISO 8601 in UTC with microseconds."""
    return utc_text(datetime.now(timezone.utc))


def utc_text(moment: datetime) -> str:
    """A moment as ISO 8601 text in UTC.

    >>> utc_text(datetime(2030, 1, 2, tzinfo=timezone.utc))
    '2030-01-02T00:00:00.000000Z'
    """
    return moment.astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


class Journal:
    """Writer. `append` hands a line to the system, `sync` waits until it is on disk."""

    def __init__(
        self,
        file: IO[bytes],
        folder: Path,
        next_n: int,
        prev: str,
        now_s: Callable[[], float],
        utc: Callable[[], str] = utc_now,
    ) -> None:
        self._file = file
        self._folder = folder
        self._n = next_n
        self._prev = prev
        self._now_s = now_s
        self._utc = utc

    @classmethod
    def create(
        cls, folder: Path, now_s: Callable[[], float], utc: Callable[[], str] = utc_now
    ) -> Journal:
        """A new journal in a folder that has none; `now_s` is the exam's monotonic clock.

        Raises InputError where there is one already.
        """
        try:
            file = open(folder / JOURNAL, "xb", buffering=0)  # noqa: SIM115
        except FileExistsError:
            raise InputError(
                "--out", str(folder), "a folder that holds no exam", "Name another folder."
            ) from None
        lock(file, folder)
        return cls(file, folder, 0, FIRST_PREV, now_s, utc)

    @classmethod
    def reopen(
        cls, folder: Path, now_s: Callable[[], float], utc: Callable[[], str] = utc_now
    ) -> tuple[Journal, str | None]:
        """Go on with a journal; a torn last line is moved aside, the second value says where.

        Raises InputError while another program writes it.
        """
        file = open(folder / JOURNAL, "ab", buffering=0)  # noqa: SIM115
        lock(file, folder)
        set_aside = _set_torn_line_aside(folder)
        last = _last_line(folder / JOURNAL)
        line = msgspec.json.decode(last, type=Line)
        return cls(file, folder, line.n + 1, sha256_hex(last), now_s, utc), set_aside

    @property
    def folder(self) -> Path:
        """The exam's folder."""
        return self._folder

    @property
    def next_n(self) -> int:
        """The number of the line that comes next."""
        return self._n

    def append(self, event: Event) -> None:
        """Write one line; it is complete in the file when this returns. Raises RecordStuck."""
        line = {
            "n": self._n,
            "t_s": round(self._now_s(), 6),
            "utc": self._utc(),
            "kind": kind_of(event),
            "data": event,
            "prev": self._prev,
        }
        text = msgspec.json.encode(line)
        with _stuck_said(self._folder):
            _write_all(self._file, text + b"\n")
        self._n += 1
        self._prev = sha256_hex(text)

    def sync(self) -> None:
        """Wait until all lines are on disk, then note the last one in the head file.

        Raises RecordStuck.
        """
        head = msgspec.json.encode(Head(self._n - 1, self._prev)) + b"\n"
        with _stuck_said(self._folder):
            os.fsync(self._file.fileno())
            _replace_file(self._folder / HEAD, head)

    def discard(self) -> None:
        """Let go of the file as it is, for a record that could not be begun."""
        self._file.close()

    def close(self) -> None:
        """Sync and close; safe to call twice."""
        if not self._file.closed:
            try:
                self.sync()
            finally:
                self._file.close()


def lock(file: IO[bytes], folder: Path) -> None:
    """Keep an open journal for this program alone; raises InputError if another has it."""
    if held_by_another(file):
        file.close()
        raise in_use("exam folder", str(folder), "an exam that no other program is running")


def require_not_running(folder: Path) -> None:
    """Raise InputError if another program is writing an exam's journal, or if there is none."""
    with open_journal(folder) as file:
        lock(file, folder)


@contextmanager
def _stuck_said(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise RecordStuck(
            f"{folder}: the record cannot be written on. The system says: {error.strerror}. What "
            "was recorded is kept. Make room or mend the disk, then go on with: "
            f"ripplefield run --resume {folder}"
        ) from error


def read(folder: Path) -> Iterator[Entry]:
    """Typed entries of an exam's journal, of any format there was; a torn last line is left out.

    Raises InputError for a folder without a journal, a line that is not one of ours, or a journal
    from the future.
    """
    steps: tuple[Step, ...] = ()
    for number, text in _whole_lines(folder):
        source = f"{folder.name}/{JOURNAL}, line {number}"
        line = split_line(text, source)
        if number == 1:
            steps = steps_of(line, source)
        yield typed(line, source, steps)


def decode_line(text: bytes, source: str) -> Entry:
    """A journal's first line as a typed entry; raises InputError that names `source`."""
    line = split_line(text, source)
    return typed(line, source, steps_of(line, source))


def split_line(text: bytes, source: str) -> Line:
    """One line with its data still undecoded; raises InputError that names `source`."""
    try:
        return msgspec.json.decode(text, type=Line)
    except UNREADABLE_JSON as error:
        raise _not_ours(source, error) from None


def steps_of(first: Line, source: str) -> tuple[Step, ...]:
    """The steps from a journal's format to today's, by its first line.

    Raises InputError for a journal from the future.
    """
    number, writer = format_of(first)
    return () if number is None else steps_from("journal", number, source, writer)


def first_format(folder: Path) -> int | None:
    """Number of an exam's journal format; None where its first line is missing or has none."""
    for number, text in _whole_lines(folder):
        return format_of(split_line(text, f"{folder.name}/{JOURNAL}, line {number}"))[0]
    return None


def format_of(first: Line) -> tuple[int | None, str]:
    """Number of a journal's format, None if its first line has none, and the version that wrote."""
    try:
        data = msgspec.json.decode(first.data, type=dict[str, Any])
    except UNREADABLE_JSON:
        return None, ""
    return number_of(data), written_by(data)


def typed(line: Line, source: str, steps: Sequence[Step] = ()) -> Entry:
    """A line as a typed entry, brought up by the steps; raises InputError that names `source`."""
    try:
        kind, data = line.kind, line.data
        if steps:
            kind, data = _brought_up(line, steps)
        if kind not in KINDS:
            raise msgspec.ValidationError(f"unknown kind {kind!r}")
        event: Event = msgspec.json.decode(data, type=KINDS[kind])
        return Entry(line.n, line.t_s, line.utc, event)
    except UNREADABLE_JSON as error:
        raise _not_ours(source, error) from None


def _brought_up(line: Line, steps: Sequence[Step]) -> tuple[str, msgspec.Raw]:
    found: dict[str, Any] = {"kind": line.kind, "data": msgspec.json.decode(line.data)}
    for step in steps:
        found = step(found)
    return str(found["kind"]), msgspec.Raw(msgspec.json.encode(found["data"]))


def _not_ours(source: str, error: Exception) -> InputError:
    return InputError(
        source,
        str(error),
        "a journal line",
        "Run ripplefield verify on the folder; work on an unchanged copy.",
    )


def _whole_lines(folder: Path) -> Iterator[tuple[int, bytes]]:
    with open_journal(folder) as file:
        for number, text in enumerate(file, start=1):
            if text.endswith(b"\n"):
                yield number, text[:-1]


def open_journal(folder: Path) -> IO[bytes]:
    """The journal file opened for reading; raises InputError where there is none."""
    path = folder / JOURNAL
    if not path.is_file():
        raise InputError(
            "exam folder",
            str(folder),
            f"a folder that holds {JOURNAL}",
            "Name the folder an exam was written to.",
        )
    return open(path, "rb")


def _write_all(file: IO[bytes], text: bytes) -> None:
    view = memoryview(text)
    while view:
        view = view[file.write(view) :]


def _replace_file(path: Path, content: bytes) -> None:
    beside = path.with_suffix(path.suffix + ".new")
    with open(beside, "wb", buffering=0) as file:
        _write_all(file, content)
        os.fsync(file.fileno())
    os.replace(beside, path)


def _last_line(path: Path) -> bytes:
    lines = path.read_bytes().splitlines()
    if not lines:
        raise InputError(
            "--resume",
            str(path),
            "a journal with at least one whole line",
            "Nothing was recorded; start a new exam.",
        )
    return lines[-1]


def _set_torn_line_aside(folder: Path) -> str | None:
    with open_journal(folder) as file:
        content = file.read()
    whole = content.rfind(b"\n") + 1
    torn = content[whole:]
    if not torn:
        return None
    name = f"journal.torn-{sha256_hex(torn)[:8]}"
    write_whole(folder / name, torn)
    sync_folder(folder)
    with open(folder / JOURNAL, "r+b") as file:
        file.truncate(whole)
        os.fsync(file.fileno())
    return name
