"""What a photometer's reply means, by its line protocol."""

from __future__ import annotations

import re
from dataclasses import dataclass

from calibration.instruments.interface import State
from calibration.instruments.line_protocol import LineProtocol
from calibration.instruments.transport import shown
from calibration.instruments.units import in_cd_m2
from protocols.errors import InputError

STATES: dict[str, State] = {"good": "good", "over": "over", "under": "under"}


class Garbage(InputError):
    """A reply that makes no sense; another try may mend it."""


@dataclass(frozen=True)
class Answer:
    """A reply understood: luminance in cd/m2, None when out of range."""

    cd_m2: float | None
    state: State


def interpret(reply: bytes, protocol: LineProtocol, name: str) -> Answer:
    """What a reply to the measure command means; `name` is the instrument's, for errors.

    Raises Garbage if it cannot be read, InputError for a status that is a fault, an unknown unit
    or a negative value.
    """
    measure = protocol.file.measure
    text = as_text(reply)
    if measure.overrange and re.fullmatch(measure.overrange, text):
        return Answer(None, "over")
    if measure.underrange and re.fullmatch(measure.underrange, text):
        return Answer(None, "under")
    found = re.fullmatch(measure.reply, text)
    if found is None:
        raise garbage(name, measure.send, reply, measure.reply)
    groups = found.groupdict()
    state = _state(groups.get("status"), protocol, name)
    if state != "good":
        return Answer(None, state)
    return Answer(_value_cd_m2(groups, protocol, name, reply), "good")


def as_text(reply: bytes) -> str:
    """A reply as text without the white space around it; bytes beyond ASCII are escaped."""
    return reply.decode("ascii", "backslashreplace").strip()


def garbage(name: str, send: str, reply: bytes, pattern: str) -> Garbage:
    """The error for a reply that does not match; says what was sent and what came."""
    return Garbage(
        f'{name}, reply to "{send}"',
        shown(reply),
        f"a reply that matches {pattern}",
        "Check the protocol file against the instrument's manual, the speed and the cable.",
    )


def _value_cd_m2(
    groups: dict[str, str | None], protocol: LineProtocol, name: str, reply: bytes
) -> float:
    unit = groups.get("unit") or protocol.file.measure.unit or ""
    try:
        value = float(groups["value"] or "")
    except ValueError:
        measure = protocol.file.measure
        raise garbage(name, measure.send, reply, f"{measure.reply} with a number") from None
    return in_cd_m2(value, unit, name, protocol.units)


def _state(status: str | None, protocol: LineProtocol, name: str) -> State:
    if status is None:
        return "good"
    table = protocol.file.measure.status
    meaning = table.get(status, "")
    if meaning in STATES:
        return STATES[meaning]
    good = ", ".join(key for key, words in table.items() if words == "good")
    raise InputError(
        f"{name}, status",
        f"{status}: {meaning}" if meaning else status,
        good,
        "Put right what the instrument complains of."
        if meaning
        else f"Add this status to [measure.status] in {protocol.source}.",
    )
