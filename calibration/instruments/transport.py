"""Bytes to and from an instrument. A transport carries them and knows no meaning."""

from __future__ import annotations

import errno
import time
from typing import TYPE_CHECKING, Annotated, Literal, NoReturn, Protocol

import msgspec

from calibration.instruments.interface import InstrumentLost
from protocols.errors import InputError, OrderError

if TYPE_CHECKING:
    import serial

READ_SLICE_S = 0.05
"""How far a wait can go past its time-out, seconds. A byte ends the wait at once."""

WRITE_TIMEOUT_S = 2.0
LONGEST_REPLY = 4096
"""Bytes without an ending after which the line is taken for the wrong one."""

LONGEST_CHATTER_S = 5.0
SHOWN = 60


class SerialSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How a serial line is set."""

    baud: Annotated[int, msgspec.Meta(ge=50, le=4_000_000)] = 9600
    data_bits: Literal[7, 8] = 8
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1
    flow: Literal["none", "hardware", "software"] = "none"

    def __str__(self) -> str:
        return f"{self.baud} baud, {self.data_bits} bits, parity {self.parity}"


class NoReply(InputError):
    """Nothing whole came in time; another try may mend it."""


class Transport(Protocol):
    """Carries bytes. Every method but `close` raises InstrumentLost once the far end is gone."""

    @property
    def name(self) -> str:
        """What messages call it."""

    def open(self) -> None:
        """Take the line; raises InputError if that cannot be."""

    def write(self, data: bytes) -> None:
        """Send bytes; raises InputError if they are not taken in time."""

    def read_until(self, ending: bytes, timeout_s: float) -> bytes:
        """Bytes up to an ending, without it; raises NoReply, or InputError if they never end."""

    def discard(self, quiet_s: float = 0.0) -> None:
        """Forget what has arrived, and go on until the line was quiet so long."""

    def close(self) -> None:
        """Let go of the line; twice is fine."""


class SerialTransport:
    """A serial port, such as /dev/ttyUSB0 or COM3."""

    def __init__(self, port_name: str, settings: SerialSettings | None = None) -> None:
        self.name = f"serial:{port_name}"
        self._port_name = port_name
        self._settings = settings or SerialSettings()
        self._port: serial.Serial | None = None
        self._held = b""

    def open(self) -> None:
        """Take the port; raises InputError if it is missing, busy, forbidden or no serial port."""
        if self._port is not None:
            raise OrderError(f"{self.name} is open already; close it first")
        try:
            self._port = _open_port(self._port_name, self._settings)
        except _FAILURES as error:
            raise _cannot_open(self.name, self._settings, error) from error
        self._held = b""

    def write(self, data: bytes) -> None:
        """See `Transport.write`; waits `WRITE_TIMEOUT_S` at most."""
        import serial

        try:
            self._opened().write(data)
        except serial.SerialTimeoutException:
            raise InputError(
                self.name,
                f"{len(data)} bytes not taken within {WRITE_TIMEOUT_S:g} s",
                "an instrument that takes what is sent",
                "Check the flow control in the protocol file, and the cable.",
            ) from None
        except _FAILURES as error:
            self._lose(error)

    def read_until(self, ending: bytes, timeout_s: float) -> bytes:
        """See `Transport.read_until`; what comes after the ending is kept for the next call."""
        deadline_s = time.monotonic() + timeout_s
        while ending not in self._held:
            if len(self._held) > LONGEST_REPLY:
                raise self._endless(ending)
            if time.monotonic() >= deadline_s:
                raise self._too_late(ending, timeout_s)
            self._held += self._received()
        reply, _, self._held = self._held.partition(ending)
        return reply

    def discard(self, quiet_s: float = 0.0) -> None:
        """See `Transport.discard`; raises InputError if the line never is quiet."""
        self._held = b""
        self._forget()
        since_s = heard_s = time.monotonic()
        while time.monotonic() - heard_s < quiet_s:
            if self._received():
                heard_s = time.monotonic()
            if heard_s - since_s > LONGEST_CHATTER_S:
                raise self._chatter()

    def close(self) -> None:
        """See `Transport.close`."""
        port, self._port = self._port, None
        if port is not None:
            port.close()

    def _opened(self) -> serial.Serial:
        if self._port is None:
            raise OrderError(f"{self.name} is not open: open it first")
        return self._port

    def _received(self) -> bytes:
        port = self._opened()
        try:
            first = port.read(1)
            return bytes(first + port.read(port.in_waiting)) if first else b""
        except _FAILURES as error:
            self._lose(error)

    def _forget(self) -> None:
        try:
            self._opened().reset_input_buffer()
        except _FAILURES as error:
            self._lose(error)

    def _lose(self, error: Exception) -> NoReturn:
        self.close()
        raise InstrumentLost(f"The instrument on {self.name} is gone.") from error

    def _too_late(self, ending: bytes, timeout_s: float) -> NoReply:
        begun = shown(self._held)
        return NoReply(
            self.name,
            f"{begun} and no more" if begun else "",
            f"a reply within {timeout_s:g} s that ends with {shown(ending)}",
            "Check that the instrument is on, its cable, and the speed and line ending in the "
            "protocol file.",
        )

    def _endless(self, ending: bytes) -> InputError:
        return InputError(
            self.name,
            f"{len(self._held)} bytes, {shown(self._held)}",
            f"a reply of up to {LONGEST_REPLY} bytes that ends with {shown(ending)}",
            "Check the speed and the line ending in the protocol file.",
        )

    def _chatter(self) -> InputError:
        return InputError(
            self.name,
            f"bytes without a pause for {LONGEST_CHATTER_S:g} s",
            "an instrument that speaks when asked",
            'Write send = "" in the protocol file if it sends readings unasked.',
        )


def shown(data: bytes) -> str:
    """Bytes as a person can read them, unprintable ones escaped, at most `SHOWN` characters.

    >>> shown(b"12.5 cd\\r\\n")
    '12.5 cd\\\\r\\\\n'
    """
    text = data.decode("latin-1").encode("unicode_escape").decode("ascii")
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}..."


def _open_port(port_name: str, settings: SerialSettings) -> serial.Serial:
    import serial

    return serial.Serial(
        port_name,
        settings.baud,
        bytesize=settings.data_bits,
        parity=settings.parity[0].upper(),
        stopbits=settings.stop_bits,
        rtscts=settings.flow == "hardware",
        xonxoff=settings.flow == "software",
        timeout=READ_SLICE_S,
        write_timeout=WRITE_TIMEOUT_S,
        exclusive=True,
    )


def _failures() -> tuple[type[Exception], ...]:
    """A port being plugged or pulled can also fail in the terminal settings, on POSIX."""
    try:
        import termios
    except ImportError:  # pragma: no cover  (systems without POSIX terminals)
        return (OSError, ValueError)
    return (OSError, ValueError, termios.error)


_FAILURES = _failures()

_ADVICE = {
    errno.ENOENT: ("a port that exists", "Plug the instrument in and check its port's name."),
    errno.ENODEV: ("a port that exists", "Plug the instrument in and check its port's name."),
    errno.EBUSY: ("a port nobody else uses", "Close the other program that holds it."),
    errno.EAGAIN: ("a port nobody else uses", "Close the other program that holds it."),
    errno.EACCES: ("a port you may open", "Join the group that owns it (often dialout)."),
    errno.EPERM: ("a port you may open", "Join the group that owns it (often dialout)."),
}


def _cannot_open(name: str, settings: SerialSettings, error: Exception) -> InputError:
    number = getattr(error, "errno", None) or (error.args[0] if error.args else 0)
    allowed, todo = _ADVICE.get(
        number,
        (
            f"a serial port that takes {settings}",
            "Name the instrument's port, such as serial:/dev/ttyUSB0, or mend [line].",
        ),
    )
    return InputError("photometer", name, allowed, todo)
