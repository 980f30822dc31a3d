"""Commands from another program on this machine, by a socket that only its owner can reach.

The frame loop asks at every frame: one call to the system that never waits. Presses are told to
whoever listens beside the socket, at once and without waiting; the record holds them anyway.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol, get_args

from protocols.errors import OrderError
from stimulus.buttons.operator_keys import Command
from stimulus.buttons.own_socket import listening_at, require_place, send_once, send_to

PARAMETER = "--control"
"""The option that names a channel."""

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
        require_place(path, PARAMETER)
        self._path = path
        self._socket = listening_at(path, PARAMETER, str(path))
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
        send_to(self._socket, PRESS, presses_path(self._path))

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
    """Listens beside a channel for presses; `take` counts those since the last call.

    Raises InputError where no socket can be made.
    """

    def __init__(self, channel: Path) -> None:
        self._path = presses_path(channel)
        self._socket = listening_at(self._path, PARAMETER, str(self._path))
        self._socket.setblocking(False)

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


def presses_path(channel: Path) -> Path:
    """Where presses are told, beside a channel."""
    return channel.with_suffix(".press")


def send_command(path: Path, command: Command) -> bool:
    """Give a command to the program that listens at `path`; False if nobody does."""
    return send_once(command.encode(), path)
