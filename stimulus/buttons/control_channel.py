"""Commands from another program on this machine, by a socket that only its owner can reach.

The frame loop asks at every frame: one call to the system that never waits. Presses are told to
whoever listens beside the socket, at once and without waiting; the record holds them anyway.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol, get_args

from protocols.errors import InputError, OrderError
from protocols.write import require_writable
from stimulus.buttons.operator_keys import Command

LONGEST_PATH = 100
"""Bytes of a socket's path that every system takes (sockaddr_un of unix(7) has room for 108)."""

_COMMANDS: dict[bytes, Command] = {word.encode(): word for word in get_args(Command)}
_MOST_BYTES = 64
PRESS = b"press"


class Source(Protocol):
    """Whatever gives commands."""

    def commands(self) -> list[Command]:
        """Commands since the last call."""

    def pressed(self) -> None:
        """The participant pressed."""


class ControlChannel:
    """Listens at `path`, one command a datagram; anything else that arrives is let fall.

    Raises InputError for a path that is too long, or where no socket can be made.
    """

    def __init__(self, path: Path) -> None:
        require_place(path)
        self._path = path
        self._socket = listening_at(path, "--control", str(path))
        self._socket.setblocking(False)

    def commands(self) -> list[Command]:
        """Commands since the last call, in order; raises OrderError after `close`."""
        if self._socket.fileno() < 0:
            raise OrderError("The control channel is closed; open it before asking.")
        found = []
        with contextlib.suppress(BlockingIOError):
            while True:
                word = self._socket.recv(_MOST_BYTES)
                if word in _COMMANDS:
                    found.append(_COMMANDS[word])
        return found

    def pressed(self) -> None:
        """Tell whoever listens at `presses_path` that the participant pressed; if nobody, fine."""
        with contextlib.suppress(OSError):
            self._socket.sendto(PRESS, str(presses_path(self._path)))

    def close(self) -> None:
        """Stop listening and remove the socket; doing it twice is fine."""
        if self._socket.fileno() >= 0:
            self._socket.close()
            self._path.unlink(missing_ok=True)


class Together:
    """Several sources of commands as one, such as keys and a channel."""

    def __init__(self, sources: Sequence[Source]) -> None:
        self._sources = tuple(sources)

    def commands(self) -> list[Command]:
        """Commands since the last call, source by source."""
        return [command for source in self._sources for command in source.commands()]

    def pressed(self) -> None:
        """The participant pressed: every source is told."""
        for source in self._sources:
            source.pressed()


class PressesHeard:
    """Listens beside a channel for presses; `take` counts those since the last call."""

    def __init__(self, channel: Path) -> None:
        self._path = presses_path(channel)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.setblocking(False)
        self._path.unlink(missing_ok=True)
        self._socket.bind(str(self._path))
        os.chmod(self._path, 0o600)

    def take(self) -> int:
        """Presses since the last call."""
        count = 0
        with contextlib.suppress(BlockingIOError):
            while True:
                count += self._socket.recv(_MOST_BYTES) == PRESS
        return count

    def close(self) -> None:
        """Stop listening."""
        self._socket.close()
        self._path.unlink(missing_ok=True)


def listening_at(path: Path, parameter: str, given: str) -> socket.socket:
    """A datagram socket at `path` that only its owner can reach; an old one there goes.

    Raises InputError, about `given` of `parameter`, where none can be made.
    """
    made = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    try:
        path.unlink(missing_ok=True)
        made.bind(str(path))
        os.chmod(path, 0o600)
    except OSError as error:
        made.close()
        todo = f"The system says: {error.strerror}."
        raise InputError(parameter, given, "a path for a socket", todo) from None
    return made


def presses_path(channel: Path) -> Path:
    """Where presses are told, beside a channel."""
    return channel.with_suffix(".press")


def require_short(path: Path, parameter: str = "--control") -> None:
    """Raise InputError, about `parameter`, for a path no socket can have."""
    if len(os.fsencode(path)) > LONGEST_PATH:
        raise InputError(
            parameter, str(path), f"a path of up to {LONGEST_PATH} bytes", "Use a shorter one."
        )


def require_place(path: Path, parameter: str = "--control") -> None:
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


def send_command(path: Path, command: Command) -> bool:
    """Give a command to the program that listens at `path`; False if nobody does."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        sender.setblocking(False)
        try:
            sender.sendto(command.encode(), str(path))
        except OSError:
            return False
    return True
