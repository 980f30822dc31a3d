"""A button of your own: another program writes a byte into a named pipe for each press.

`--button pipe:PATH`; the pipe must be there (`mkfifo PATH`). Whatever the byte is, it is a press.
"""

from __future__ import annotations

import os
import select
import stat
import sys
import threading
from pathlib import Path

from protocols.errors import InputError
from stimulus.buttons.inbox import Inbox
from stimulus.clock import clock

WAIT_S = 0.05


class Pipe:
    """Bytes that arrive together carry one time. See `stimulus.buttons.interface.Button`."""

    def __init__(self, path: Path) -> None:
        self.name = f"pipe:{path}"
        self._path = path
        self._inbox: Inbox[float] = Inbox(f"The button {self.name}")
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def resolution_s(self) -> float:
        """One wait for Python's interpreter lock, seconds."""
        return sys.getswitchinterval()

    def start(self) -> None:
        """Open the pipe and listen; raises InputError if there is none."""
        self._inbox.require_closed()
        end = self._open()
        self._inbox.open()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._listen, args=(end, self._closing), daemon=True)
        self._thread.start()

    def presses(self) -> list[float]:
        """Press times since the last call."""
        return self._inbox.take()

    def recover(self) -> bool:
        """A pipe is never lost: both ends are held open."""
        return self._inbox.is_open

    def close(self) -> None:
        """Stop listening."""
        self._inbox.close()
        self._closing.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _open(self) -> int:
        if not self._path.exists() or not stat.S_ISFIFO(self._path.stat().st_mode):
            todo = f"Make it first: mkfifo {self._path}"
            raise InputError("button", self.name, "a named pipe", todo)
        end = os.open(self._path, os.O_RDWR | os.O_NONBLOCK)
        while select.select([end], [], [], 0)[0]:  # what was pressed before does not count
            os.read(end, 4096)
        return end

    def _listen(self, end: int, closing: threading.Event) -> None:
        while not closing.is_set():
            if select.select([end], [], [], WAIT_S)[0]:
                t_s = clock()
                for _ in os.read(end, 4096):
                    self._inbox.put(t_s)
        os.close(end)


def open_pipe(detail: str) -> Pipe:
    """The button of `pipe:PATH`; raises InputError without a path. Opens nothing yet."""
    if not detail:
        raise InputError("button", "pipe:", "pipe:PATH", "Name the pipe after the colon.")
    return Pipe(Path(detail))
