"""Writing whole files or nothing: a reader never meets half a file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from protocols.errors import InputError


def write_whole(path: Path, content: bytes, lasting: bool = True) -> None:
    """Replace `path` with this content in one step; what was there stays until then.

    `lasting` waits until it is on disk. What can be made again at any time need not wait: after a
    power cut it may be gone. Raises InputError where the system does not let it.
    """
    try:
        _write_whole(path, content, lasting)
    except OSError as error:
        raise InputError(
            "folder",
            str(path.parent),
            f"a folder in which {path.name} can be written",
            f"The system says: {error.strerror}.",
        ) from None


def sync_folder(folder: Path) -> None:
    """Wait until the names of a folder's files are on disk, where the system can tell."""
    if not hasattr(os, "O_DIRECTORY"):  # pragma: no cover  (systems without open folders)
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_whole(path: Path, content: bytes, lasting: bool) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            if lasting:
                os.fsync(file.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
