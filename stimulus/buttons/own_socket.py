"""Datagram sockets with a path, that only their owner can reach."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from protocols.errors import InputError
from protocols.write import require_writable

LONGEST_PATH = 100
"""Bytes of a socket's path that every system takes (sockaddr_un of unix(7) has room for 108)."""

_OPEN_FOLDERS = Path("/proc/self/fd")
"""Where the system has it, a folder can be named by its number while it is open (proc(5))."""

_LONGEST_NAME = LONGEST_PATH - len(f"{_OPEN_FOLDERS}/1048576/")


def listening_at(path: Path, parameter: str, given: str) -> socket.socket:
    """A datagram socket at `path` that only its owner can reach; an old one there goes.

    Raises InputError, about `given` of `parameter`, where none can be made.
    """
    made = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    try:
        path.unlink(missing_ok=True)
        with _address(path) as address:
            made.bind(address)
        os.chmod(path, 0o600)
    except OSError as error:
        made.close()
        todo = f"The system says: {error.strerror}."
        raise InputError(parameter, given, "a path for a socket", todo) from None
    return made


def send_to(sender: socket.socket, data: bytes, path: Path) -> bool:
    """Send one datagram to whoever listens at `path`; False if nobody does or can take it."""
    try:
        with _address(path) as address:
            sender.sendto(data, address)
    except OSError:
        return False
    return True


def send_once(data: bytes, path: Path) -> bool:
    """`send_to` from a socket of its own, without waiting."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        sender.setblocking(False)
        return send_to(sender, data, path)


def require_short(path: Path, parameter: str) -> None:
    """Raise InputError, about `parameter`, for a path no socket can have."""
    if len(os.fsencode(path)) <= LONGEST_PATH:
        return
    if not _OPEN_FOLDERS.is_dir():
        allowed = f"a path of up to {LONGEST_PATH} bytes"
    elif len(os.fsencode(path.name)) > _LONGEST_NAME:
        allowed = f"a name of up to {_LONGEST_NAME} bytes"
    else:
        return
    raise InputError(parameter, str(path), allowed, "Use a shorter one.")


def require_place(path: Path, parameter: str) -> None:
    """Raise InputError unless a socket can be made here; another program's old one may lie there.

    Anything else of that name is somebody's file and stays. `parameter` is what the error names.
    """
    require_short(path, parameter)
    if not path.absolute().parent.is_dir():
        raise InputError(
            parameter, str(path), "a name in a folder that exists", "Make the folder first."
        )
    if path.exists() and not path.is_socket():
        raise InputError(
            parameter, str(path), "a path where there is nothing yet", "Name another one."
        )
    require_writable(path.absolute().parent, parameter, path)


@contextmanager
def _address(path: Path) -> Iterator[str]:
    """What the system is told: the path, or one through its folder's number if that is too long."""
    if len(os.fsencode(path)) <= LONGEST_PATH:
        yield str(path)
        return
    folder = os.open(path.parent, os.O_DIRECTORY | getattr(os, "O_PATH", os.O_RDONLY))
    try:
        yield f"{_OPEN_FOLDERS}/{folder}/{path.name}"
    finally:
        os.close(folder)
