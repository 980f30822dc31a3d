"""Is the whole record what was written? The journal, and the files it names by their SHA-256."""

from __future__ import annotations

from pathlib import Path

from protocols.errors import InputError
from protocols.events import Opened
from protocols.files import sha256_hex
from protocols.journal import read
from protocols.verify import Verification, verify

PROTOCOL_FILES = ("protocol.toml", "pattern.toml")
REFERENCE_FILE = "reference.toml"


def verify_record(folder: Path) -> Verification:
    """Check an exam's journal and the files the exam was run with.

    Raises InputError where there is no journal or it is from the future.
    """
    found = verify(folder)
    opened = _opened(folder)
    if opened is not None:
        found.problems.extend(_of_protocol(folder, opened))
        found.problems.extend(_of_reference(folder, opened))
    return found


def _opened(folder: Path) -> Opened | None:
    try:
        first = next(read(folder), None)
    except InputError:
        return None
    return first.event if first is not None and isinstance(first.event, Opened) else None


def _of_protocol(folder: Path, opened: Opened) -> list[str]:
    missing = [f"{name} is missing" for name in PROTOCOL_FILES if not (folder / name).is_file()]
    if missing:
        return missing
    content = b"\n".join((folder / name).read_bytes() for name in PROTOCOL_FILES)
    if sha256_hex(content) == opened.protocol_sha256:
        return []
    return ["protocol.toml or pattern.toml is not the one the exam was opened with"]


def _of_reference(folder: Path, opened: Opened) -> list[str]:
    path = folder / REFERENCE_FILE
    if not path.is_file():
        return [f"{REFERENCE_FILE} is missing"]
    if sha256_hex(path.read_bytes()) == opened.reference.sha256:
        return []
    return [f"{REFERENCE_FILE} is not the one the exam was opened with"]
