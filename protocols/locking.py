"""One program at a time writes a file: the system's own lock, gone however the program ends."""

from __future__ import annotations

from typing import IO

from protocols.errors import InputError


def held_by_another(file: IO[bytes]) -> bool:
    """Take the lock of an open file; True if another program has it."""
    try:
        import fcntl
    except ImportError:  # pragma: no cover  (systems without POSIX locks)
        return False
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return True
    return False


def in_use(parameter: str, name: str, allowed: str) -> InputError:
    """What to say when another program has it."""
    return InputError(parameter, name, allowed, "Wait for the other one to end, or stop it.")
