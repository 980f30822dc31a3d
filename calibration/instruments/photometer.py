"""A photometer on a line: a transport for the bytes and a line protocol for their meaning."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import msgspec

from calibration.certificate import Instrument
from calibration.instruments.interface import Reading, Target, require_started
from calibration.instruments.line_protocol import LineProtocol
from calibration.instruments.replies import Answer, Garbage, as_text, garbage, interpret
from calibration.instruments.transport import NoReply, Transport
from protocols.errors import InputError, OrderError, require_within

QUIET_S = 0.3
"""How long the line must be silent after a failed try, so that no late reply is taken for a new."""

REPEATS_RANGE = (1, 100)
T = TypeVar("T")


@dataclass(frozen=True)
class Details:
    """What a person enters about an instrument; None leaves what its file or itself says.

    Raises InputError for an uncertainty that is no share.
    """

    name: str | None = None
    serial: str | None = None
    relative_uncertainty: float | None = None

    def __post_init__(self) -> None:
        if self.relative_uncertainty is not None:
            require_within(
                "relative_uncertainty", self.relative_uncertainty, 1e-6, 0.5,
                "Give the standard uncertainty as a share, such as 0.02.",
            )  # fmt: skip

    def over(self, found: Instrument) -> Instrument:
        """An instrument with what was entered put over what was found."""
        entered = {
            "name": self.name,
            "serial": self.serial,
            "relative_uncertainty": self.relative_uncertainty,
        }
        given = {key: value for key, value in entered.items() if value is not None}
        return msgspec.structs.replace(found, **given)


class LinePhotometer:
    """A photometer that speaks `protocol` over `transport`."""

    def __init__(
        self, transport: Transport, protocol: LineProtocol, details: Details | None = None
    ) -> None:
        self.name = f"photometer {transport.name}"
        self._transport, self._protocol = transport, protocol
        self._details = details or Details()
        part = protocol.file.instrument
        self._found = Instrument(
            kind="photometer",
            name=part.name,
            serial="",
            relative_uncertainty=part.relative_uncertainty,
            simulated=False,
        )
        self._started = False

    @property
    def identity(self) -> Instrument:
        """What the file and, once started, the instrument say; what was entered goes before."""
        return self._details.over(self._found)

    @property
    def settle_s(self) -> float:
        """How long the instrument needs after a change of light, seconds."""
        return self._protocol.file.talk.settle_s

    def start(self) -> None:
        """Open the line and go through the start-up dialogue.

        Raises InputError where a reply is not the expected one, InstrumentLost, or OrderError.
        """
        if self._started:
            raise OrderError(f"{self.name} is started already; close it first")
        self._transport.open()
        try:
            self._greet()
        except BaseException:
            self._transport.close()
            raise
        self._started = True

    def look_at(self, target: Target) -> None:
        """It sees for itself."""

    def read_cd_m2(self, repeats: int = 1) -> Reading:
        """Ask for readings; stops at the first that is out of range. See `Photometer`."""
        require_started(self._started, self.name)
        require_within("repeats", repeats, *REPEATS_RANGE, "Give a whole number of readings.")
        values: list[float] = []
        for _ in range(repeats):
            answer = self._asked(self._protocol.file.measure.send, self._understood)
            if answer.cd_m2 is None:
                return Reading(self.name, tuple(values), answer.state)
            values.append(answer.cd_m2)
        return Reading(self.name, tuple(values))

    def close(self) -> None:
        """Free the line."""
        self._started = False
        self._transport.close()

    def _greet(self) -> None:
        for step in self._protocol.file.start:
            self._asked(step.send, partial(self._match, step.send, step.expect))
        who = self._protocol.file.identity
        if who is not None:
            found = self._asked(who.send, partial(self._match, who.send, who.reply))
            named = {key: value for key, value in found.groupdict().items() if value}
            known = {key: named[key] for key in ("name", "serial") if key in named}
            self._found = msgspec.structs.replace(self._found, **known)

    def _understood(self, reply: bytes) -> Answer:
        return interpret(reply, self._protocol, self.name)

    def _match(self, send: str, pattern: str, reply: bytes) -> re.Match[str]:
        found = re.fullmatch(pattern, as_text(reply))
        if found is None:
            raise garbage(self.name, send, reply, pattern)
        return found

    def _asked(self, send: str, understand: Callable[[bytes], T]) -> T:
        """Send and understand; a missing or unreadable reply is asked for again."""
        tries = self._protocol.file.talk.retries + 1
        for left in reversed(range(tries)):
            try:
                return understand(self._exchange(send))
            except (NoReply, Garbage) as error:
                if left == 0:
                    raise _given_up(error, tries) from error
                self._transport.discard(QUIET_S if send else 0.0)
        raise AssertionError("a try either returns or raises")

    def _exchange(self, send: str) -> bytes:
        self._transport.discard()
        if not send:
            self._line()  # it may have begun before it was discarded
            return self._line()
        talk = self._protocol.file.talk
        self._transport.write((send + talk.ending).encode("ascii"))
        if talk.echo:
            self._match(send, re.escape(send.strip()), self._line())
        return self._line()

    def _line(self) -> bytes:
        talk = self._protocol.file.talk
        return self._transport.read_until(talk.reply_ending.encode("ascii"), talk.timeout_s)


def _given_up(error: InputError, tries: int) -> InputError:
    tried = "Tried once." if tries == 1 else f"Tried {tries} times."
    return InputError(error.parameter, error.given, error.allowed, f"{tried} {error.todo}")
