"""An exam's folder: refused if it holds an exam already, made whole with its first lines."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from protocols.errors import InputError, RecordStuck
from protocols.events import Event
from protocols.journal import JOURNAL, Journal, utc_now
from protocols.library import Protocol
from protocols.write import sync_folder, write_whole

CERTIFICATE = "display.json"


def require_new(folder: Path) -> Path:
    """Raise InputError if the folder holds something or cannot be made; nothing is made yet."""
    if folder.exists() and not folder.is_dir():
        raise InputError(
            "--out", str(folder), "a folder that does not exist yet", "Name another folder."
        )
    if folder.is_dir() and any(folder.iterdir()):
        todo = (
            f"Name another folder, or go on with this exam: ripplefield run --resume {folder}"
            if (folder / JOURNAL).exists()
            else "Name another folder."
        )
        raise InputError("--out", str(folder), "a folder that is new or empty", todo)
    return require_place(folder)


def require_place(folder: Path) -> Path:
    """Raise InputError if the folder, or the nearest above it that exists, takes no files.

    Nothing is made.
    """
    nearest = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    try:
        with tempfile.TemporaryFile(dir=nearest):
            pass
    except OSError as error:
        raise _not_writable(folder, error.strerror) from None
    return folder


def open_folder(
    folder: Path,
    protocol: Protocol,
    reference_text: str,
    first: tuple[Event, ...],
    now_s: Callable[[], float],
    utc: Callable[[], str] = utc_now,
    certificate: bytes | None = None,
) -> Journal:
    """Make the folder with protocol, pattern, reference and the first lines on disk.

    `certificate` is the display's, if it has one: it goes into the folder as it is. Raises
    InputError when the folder exists already.
    """
    require_new(folder)
    made = not folder.exists()
    _make(folder)
    journal = Journal.create(folder, now_s, utc)
    try:
        write_whole(folder / "protocol.toml", protocol.text.encode())
        write_whole(folder / "pattern.toml", protocol.pattern_text.encode())
        write_whole(folder / "reference.toml", reference_text.encode())
        if certificate is not None:
            write_whole(folder / CERTIFICATE, certificate)
        _begin(journal, first, folder)
    except InputError:
        _take_back(journal, folder, made)
        raise
    return journal


def _begin(journal: Journal, first: tuple[Event, ...], folder: Path) -> None:
    try:
        for event in first:
            journal.append(event)
        journal.sync()
        sync_folder(folder)
    except RecordStuck as stuck:
        system = getattr(stuck.__cause__, "strerror", None)
        raise _not_writable(folder, system) from None


def _take_back(journal: Journal, folder: Path, made: bool) -> None:
    """A record that could not be begun leaves nothing behind; the folder was new or empty."""
    journal.discard()
    for path in folder.iterdir():
        path.unlink()
    if made:
        folder.rmdir()


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _not_writable(folder, error.strerror) from None


def _not_writable(folder: Path, reason: str | None) -> InputError:
    return InputError(
        "--out", str(folder), "a folder that can be written to", f"The system says: {reason}."
    )
