"""Copies of records for sharing: new codes, shifted dates, a valid chain, the same result."""

from __future__ import annotations

import csv
import io
import os
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec

from analysis.export.target import new_folder
from analysis.grade import grade_folder
from analysis.result_file import RESULT
from calibration.certificate import Certificate, read_certificate, write_certificate
from protocols.errors import InputError
from protocols.events import Display
from protocols.folder import CERTIFICATE
from protocols.journal import Entry, Journal, read, require_not_running
from protocols.scrub import (
    WITHHELD,
    Alias,
    Span,
    code_of,
    draw_aliases,
    scrub_event,
    scrub_values,
    shifted,
    span_of,
)
from protocols.verify import require_sound
from protocols.verify_record import PROTOCOL_FILES, REFERENCE_FILE, verify_record
from protocols.write import require_writable

KEY_COLUMNS = ("code", "new_code", "shift_days")
Watch = Callable[[int, int], None]


@dataclass(frozen=True)
class Copied:
    """A copy: its folder's name, the age in it, and the bytes of a torn line left out."""

    name: str
    age_years: int
    torn_bytes: int


@dataclass(frozen=True)
class _Source:
    folder: Path
    code: str
    span: Span
    began_utc: str
    torn_bytes: int


def scrub(
    folders: list[Path], out: Path, seed: int | None = None, key_file: Path | None = None
) -> list[Copied]:
    """Write scrubbed copies of records into a new folder, all or none.

    The mapping from old to new codes goes into `key_file`, or nowhere. Raises InputError for a
    record that was changed or is running, and for files and folders that are there already.
    """
    if key_file is not None:
        _require_new_key(key_file, out)
    sources = sorted(map(_look_at, folders), key=lambda source: (source.code, source.began_utc))
    aliases = draw_aliases(_spans(sources), seed)
    met, copied = Counter[str](), []
    with new_folder(out) as made:
        for source in sources:
            alias = aliases[source.code]
            met[alias.code] += 1
            copied.append(_copy(source, made / f"{alias.code}-{met[alias.code]}", alias))
        if key_file is not None:
            _write_key(key_file, list(aliases.values()))
    return sorted(copied, key=lambda one: one.name)


def _look_at(folder: Path) -> _Source:
    require_not_running(folder)
    found = verify_record(folder)
    require_sound(found, "DIR", folder)
    entries = list(read(folder))
    if not any(isinstance(entry.event, Display) for entry in entries):
        todo = "The exam ended before it began; leave it out."
        raise InputError("DIR", str(folder), "a record with its first lines", todo)
    return _Source(folder, code_of(entries), span_of(entries), entries[0].utc, found.torn_bytes)


def _spans(sources: list[_Source]) -> dict[str, Span]:
    spans: dict[str, Span] = {}
    for source in sources:
        known = spans.get(source.code, source.span)
        spans[source.code] = known.with_day(source.span.first).with_day(source.span.last)
    return spans


def _copy(source: _Source, to: Path, alias: Alias) -> Copied:
    to.mkdir()
    for name in (*PROTOCOL_FILES, REFERENCE_FILE):
        shutil.copyfile(source.folder / name, to / name)
    seals = _copy_certificate(source.folder, to, alias)
    entries = list(read(source.folder))
    _write_journal(entries, to, alias, seals)
    if (source.folder / RESULT).is_file():
        grade_folder(to)
    age_years = getattr(entries[0].event, "age_years", 0)
    return Copied(to.name, age_years, source.torn_bytes)


def _copy_certificate(folder: Path, to: Path, alias: Alias) -> dict[str, str]:
    """Write the display's certificate without dates and serial numbers; old seal to new seal."""
    path = folder / CERTIFICATE
    if not path.is_file():
        return {}
    found = read_certificate(path)
    data = scrub_values(msgspec.to_builtins(found), alias)
    data["command"] = WITHHELD
    data["identity"]["display_serial"] = WITHHELD
    for instrument in data["instruments"]:
        instrument["serial"] = WITHHELD
    written = write_certificate(to / CERTIFICATE, msgspec.convert(data, Certificate))
    return {found.sha256: written.sha256}


def _write_journal(
    entries: list[Entry], to: Path, alias: Alias, seals: dict[str, str]
) -> None:
    now = entries[0]
    journal = Journal.create(to, lambda: now.t_s, lambda: shifted(now.utc, alias))
    for entry in entries:
        now = entry
        event = scrub_event(entry.event, alias)
        if isinstance(event, Display) and event.certificate_sha256 is not None:
            seal = seals.get(event.certificate_sha256)
            event = msgspec.structs.replace(event, certificate_sha256=seal)
        journal.append(event)
    journal.close()


def _require_new_key(key_file: Path, out: Path) -> None:
    if key_file.exists() or key_file.is_symlink():
        raise InputError(
            "--keep-key", str(key_file), "a file that does not exist yet", "Name another file."
        )
    if not key_file.absolute().parent.is_dir():
        raise InputError(
            "--keep-key", str(key_file), "a name in a folder that exists", "Make the folder first."
        )
    require_writable(key_file.absolute().parent, "--keep-key", key_file)
    if out.absolute() in (key_file.absolute(), *key_file.absolute().parents):
        raise InputError(
            "--keep-key", str(key_file), "a file outside --out", "Keep it where nothing is shared."
        )


def _write_key(key_file: Path, aliases: list[Alias]) -> None:
    """For the owner's eyes alone."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(KEY_COLUMNS)
    table.writerows((alias.was, alias.code, alias.shift_days) for alias in aliases)
    handle = os.open(key_file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(text.getvalue())
