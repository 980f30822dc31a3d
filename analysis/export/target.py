"""The folder that is written: new and whole, or not there at all."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from protocols.errors import InputError

Watch = Callable[[int, int], None]
"""Told how many exams are done, of how many."""


@contextmanager
def new_folder(out: Path) -> Iterator[Path]:
    """A hidden folder beside `out` that takes its name when all went well, else goes away.

    Raises InputError if there is something of that name, no folder to put it in, or if the system
    does not let it be written.
    """
    _require_new(out)
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.absolute().parent))
    except OSError as error:
        raise _not_writable(out, error) from None
    try:
        yield beside
        os.sync()
        beside.chmod(0o755)
        beside.rename(out)
    except OSError as error:
        raise _not_writable(out, error) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def write_json(path: Path, value: dict[str, Any]) -> None:
    """A JSON file for people too: indented, in the order given. Never a number that is none."""
    text = json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")


def _require_new(out: Path) -> None:
    if out.exists() or out.is_symlink():
        raise InputError(
            "--out", str(out), "a folder that does not exist yet", "Name another folder."
        )
    if not out.absolute().parent.is_dir():
        raise InputError(
            "--out", str(out), "a name in a folder that exists", "Make the folder first."
        )


def _not_writable(out: Path, error: OSError) -> InputError:
    return InputError(
        "--out",
        str(out),
        "a folder that can be written to",
        f"The system says: {error.strerror}.",
    )
