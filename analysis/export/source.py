"""Exams to be exported: each is sound, whole, not under way, and there only once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

from protocols.codes import require_code
from protocols.errors import InputError
from protocols.events import Opened
from protocols.files import sha256_hex
from protocols.journal import decode_line, open_journal, read, require_not_running
from protocols.scrub import code_of
from protocols.verify import require_sound
from protocols.verify_record import verify_record


@dataclass(frozen=True)
class Source:
    """An exam's folder with what its first line says, the code as later lines correct it."""

    folder: Path
    opened: Opened
    opened_utc: str
    first_sha256: str

    @property
    def moment(self) -> datetime:
        """When it was opened."""
        return moment_of(self.opened_utc)


def moment_of(utc: str) -> datetime:
    """A journal's wall-clock text as a moment.

    >>> moment_of("2030-01-02T09:00:00.500000Z").microsecond
    500000
    """
    return datetime.fromisoformat(utc.replace("Z", "+00:00"))


def read_sources(folders: Sequence[Path]) -> list[Source]:
    """The exams by participant and time; raises InputError for one that cannot be exported."""
    sources = [_source(folder) for folder in folders]
    _refuse_doubles(sources)
    return sorted(sources, key=lambda s: (s.opened.participant, s.opened_utc, s.first_sha256))


def _source(folder: Path) -> Source:
    require_not_running(folder)
    require_sound(verify_record(folder), "DIR", folder)
    with open_journal(folder) as file:
        first = file.readline()
    if not first.endswith(b"\n"):
        raise _nothing_in(folder)
    entry = decode_line(first[:-1], f"{folder.name}/journal.jsonl, line 1")
    assert isinstance(entry.event, Opened), "verify_record lets no other kind stand first"
    opened = replace(entry.event, participant=code_of(list(read(folder))))
    _require_plain_code(opened.participant, folder)
    return Source(folder, opened, entry.utc, sha256_hex(first[:-1]))


def _require_plain_code(code: str, folder: Path) -> None:
    try:
        require_code(code)
    except InputError as error:
        raise InputError(
            f"participant of {folder}", code, error.allowed, "Nothing that names people goes out."
        ) from None


def _refuse_doubles(sources: Sequence[Source]) -> None:
    seen: dict[str, Path] = {}
    for source in sources:
        if source.first_sha256 in seen:
            raise InputError(
                "DIR",
                str(source.folder),
                f"each exam once; {seen[source.first_sha256]} holds the same one",
                "Leave one of them out.",
            )
        seen[source.first_sha256] = source.folder


def require_shown(folder: Path, presentations: int) -> None:
    """Raise InputError for an exam in which nothing was shown."""
    if presentations == 0:
        raise _nothing_in(folder)


def _nothing_in(folder: Path) -> InputError:
    return InputError(
        "DIR",
        str(folder),
        "an exam in which something was shown",
        "Leave this folder out: the exam stopped before its first presentation.",
    )
