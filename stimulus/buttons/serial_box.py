"""A button on a serial port: one byte a press, stamped by a thread the moment it arrives."""

from __future__ import annotations

import errno
import sys
import threading

import serial

from protocols.errors import InputError
from stimulus.buttons.bounce import Debounce
from stimulus.buttons.inbox import Inbox
from stimulus.clock import clock

BAUD = 9600
"""Bits a second; boxes that are USB devices ignore it."""

READ_TIMEOUT_S = 0.05
"""How soon the thread notices `close`, seconds. A byte ends the wait at once."""

READY_LIMIT_S = 2.0
"""Longest wait for the thread to listen, seconds."""

BITS_PER_BYTE = 10
"""Start bit, eight data bits, stop bit."""


class SerialBox:
    """A button box on `port`, such as /dev/ttyUSB0 or COM3.

    Every byte is a press, whatever its value, except those in `ignored` (a box that also reports
    the release). Bytes that arrive together carry one time; bytes nearer than `BOUNCE_S` to the
    last press are bounce.
    """

    def __init__(self, port: str, ignored: bytes = b"", baud: int = BAUD) -> None:
        self.name = f"serial:{port}"
        self._port_name, self._ignored, self._baud = port, ignored, baud
        self._inbox: Inbox[float] = Inbox(f"The button {self.name}")
        self._debounce = Debounce()
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def resolution_s(self) -> float:
        """One byte on the line and one wait for Python's interpreter lock, seconds.

        The box's own delay is not in it: measure it (some USB adapters hold bytes for 16 ms).
        """
        return BITS_PER_BYTE / self._baud + sys.getswitchinterval()

    def start(self) -> None:
        """Open the port and listen; raises InputError if it is missing, busy or no serial port."""
        self._inbox.require_closed()
        port = self._open()
        self._inbox.open()
        self._listen_on(port)

    def presses(self) -> list[float]:
        """Press times since the last call; see `Button.presses`."""
        return self._inbox.take()

    def recover(self) -> bool:
        """Open the same port again after a loss; True if the button works now."""
        if not self._inbox.is_open:
            return False
        if not self._inbox.is_lost:
            return True
        self._join()  # the thread that lost the port frees it
        try:
            port = self._open()
        except InputError:
            return False
        self._inbox.mend()
        self._listen_on(port)
        return True

    def close(self) -> None:
        """Stop listening and free the port."""
        self._inbox.close()
        self._closing.set()
        self._join()

    def _join(self) -> None:
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _open(self) -> serial.Serial:
        try:
            return serial.Serial(
                self._port_name, self._baud, timeout=READ_TIMEOUT_S, exclusive=True
            )
        except _OPEN_FAILURES as error:
            raise _cannot_open(self.name, error) from error

    def _listen_on(self, port: serial.Serial) -> None:
        """Returns once the thread reads: a press made after that is stamped as it comes."""
        self._closing, listening = threading.Event(), threading.Event()
        self._thread = threading.Thread(
            target=self._listen, args=(port, self._closing, listening), name=self.name, daemon=True
        )
        self._thread.start()
        listening.wait(READY_LIMIT_S)

    def _listen(
        self, port: serial.Serial, closing: threading.Event, listening: threading.Event
    ) -> None:
        with port:
            listening.set()
            try:
                while not closing.is_set():
                    self._read(port)
            except OSError:  # pyserial's own exception is one too
                self._inbox.lose(
                    f"The button {self.name} is gone: plug it in again to go on, or stop the exam."
                )

    def _read(self, port: serial.Serial) -> None:
        first = port.read(1)
        if not first:
            return
        t_s = clock()
        self._note(first, t_s)
        self._note(port.read(port.in_waiting), t_s)

    def _note(self, received: bytes, t_s: float) -> None:
        for byte in received:
            if byte not in self._ignored and self._debounce.accepts(t_s):
                self._inbox.put(t_s)


def _open_failures() -> tuple[type[Exception], ...]:
    """A box that is just being plugged in can also fail in the terminal settings, on POSIX."""
    try:
        import termios
    except ImportError:
        return (OSError, ValueError)
    return (OSError, ValueError, termios.error)


_OPEN_FAILURES = _open_failures()

_ADVICE = {
    errno.ENOENT: ("a port that exists", "Plug the box in and check the name of its port."),
    errno.ENODEV: ("a port that exists", "Plug the box in and check the name of its port."),
    errno.EBUSY: ("a port nobody else uses", "Close the other program that holds it."),
    errno.EAGAIN: ("a port nobody else uses", "Close the other program that holds it."),
    errno.EACCES: ("a port you may open", "Join the group that owns it (often dialout)."),
}
_OTHERWISE = ("a serial port", "Name the port of the button box, such as serial:/dev/ttyUSB0.")


def _cannot_open(name: str, error: Exception) -> InputError:
    allowed, todo = _ADVICE.get(getattr(error, "errno", None) or 0, _OTHERWISE)
    return InputError("button", name, allowed, todo)
