"""How a photometer talks over a line, described in a TOML file: what is sent, what comes back.

A lab adds its own instrument by writing such a file; `library/plain-line.toml` explains each key.
Regular expressions are Python's and must match the whole reply, with white space around it off.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import isclose
from pathlib import Path
from typing import Annotated, Literal

import msgspec

from calibration.instruments.transport import SerialSettings
from calibration.instruments.units import UNITS_CD_M2
from protocols.errors import InputError, require_within
from protocols.files import decode_toml, read_text

_LIBRARY = Path(__file__).parent / "library"

FACTOR_RANGE = (1e-9, 1e9)
_FACTOR_TODO = "Write what one of this unit is in cd/m2."

Words = Annotated[str, msgspec.Meta(min_length=1)]
Seconds = Annotated[float, msgspec.Meta(ge=0.0, le=60.0)]
Wait = Annotated[float, msgspec.Meta(ge=0.05, le=120.0)]


class InstrumentPart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What the instrument is, and its own relative standard uncertainty."""

    name: Words
    relative_uncertainty: Annotated[float, msgspec.Meta(gt=0.0, lt=1.0)]


class TalkPart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How both sides take turns."""

    ending: Words = "\r\n"
    reply_ending: Words = "\r\n"
    echo: bool = False
    timeout_s: Wait = 5.0
    retries: Annotated[int, msgspec.Meta(ge=0, le=20)] = 2
    settle_s: Seconds = 0.5


class Exchange(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Something sent, and what the reply must look like."""

    send: Words
    expect: Words


class IdentityPart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How the instrument is asked who it is; the groups `name` and `serial` are taken over."""

    send: Words
    reply: Words


class MeasurePart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How a reading is asked for and read; an empty `send` waits for an instrument that streams."""

    send: str
    reply: Words
    unit: str | None = None
    overrange: str | None = None
    underrange: str | None = None
    status: dict[str, str] = {}


class LineProtocolFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A line protocol as its TOML file holds it."""

    format: Literal[1]
    about: Words
    instrument: InstrumentPart
    line: SerialSettings = msgspec.field(default_factory=SerialSettings)
    talk: TalkPart = msgspec.field(default_factory=TalkPart)
    start: list[Exchange] = []
    identity: IdentityPart | None = None
    measure: MeasurePart
    units: dict[str, float] = {}


@dataclass(frozen=True)
class LineProtocol:
    """A checked line protocol; `source` names its file, `units` what one of each is in cd/m2."""

    file: LineProtocolFile
    source: str
    units: dict[str, float] = field(repr=False)


def bundled_line_protocols() -> list[str]:
    """Names of the bundled line protocols, sorted."""
    return sorted(path.stem for path in _LIBRARY.glob("*.toml"))


def load_line_protocol(name_or_path: str) -> LineProtocol:
    """Read and check a line protocol by bundled name or path; raises InputError.

    >>> load_line_protocol("plain-line").file.instrument.name
    'plain-line'
    """
    known = bundled_line_protocols()
    path = _LIBRARY / f"{name_or_path}.toml" if name_or_path in known else Path(name_or_path)
    return parse_line_protocol(read_text(path, "line protocol"), path.name)


def parse_line_protocol(text: str, source: str) -> LineProtocol:
    """Check a line protocol's text; raises InputError that names `source` and the key."""
    file = decode_toml(LineProtocolFile, text, source)
    for key, pattern in _patterns(file):
        _check_pattern(f"{source}, {key}", pattern)
    _check_ascii(file, source)
    units = _units(file, source)
    _check_measure(file.measure, units, source)
    _check_identity(file.identity, source)
    return LineProtocol(file, source, units)


def _patterns(file: LineProtocolFile) -> list[tuple[str, str]]:
    measure = file.measure
    found = [(f"start[{i}].expect", exchange.expect) for i, exchange in enumerate(file.start)]
    found.append(("measure.reply", measure.reply))
    found += [("measure.overrange", measure.overrange)] if measure.overrange is not None else []
    found += [("measure.underrange", measure.underrange)] if measure.underrange is not None else []
    return found + ([("identity.reply", file.identity.reply)] if file.identity else [])


def _check_pattern(where: str, pattern: str) -> None:
    try:
        compiled = re.compile(pattern)
    except re.error as error:
        raise InputError(
            where, pattern, "a regular expression", f"Mend it: {error.msg} at {error.pos}."
        ) from None
    if compiled.fullmatch(""):
        raise InputError(
            where, pattern, "a pattern that an empty reply does not match", "Add what must come."
        )


def _check_ascii(file: LineProtocolFile, source: str) -> None:
    talk, measure = file.talk, file.measure
    sent = [("talk.ending", talk.ending), ("talk.reply_ending", talk.reply_ending)]
    sent += [("measure.send", measure.send)]
    sent += [(f"start[{i}].send", exchange.send) for i, exchange in enumerate(file.start)]
    sent += [("identity.send", file.identity.send)] if file.identity else []
    for key, text in sent:
        if not text.isascii():
            raise InputError(f"{source}, {key}", text, "ASCII characters", "Write it in ASCII.")


def _units(file: LineProtocolFile, source: str) -> dict[str, float]:
    for unit, factor in file.units.items():
        require_within(f"{source}, units.{unit}", factor, *FACTOR_RANGE, _FACTOR_TODO)
        known = UNITS_CD_M2.get(unit)
        if known is not None and not isclose(factor, known, rel_tol=1e-6):
            raise InputError(
                f"{source}, units.{unit}",
                factor,
                f"{known:.8g}, its definition",
                "Remove it, or name your unit otherwise.",
            )
    return UNITS_CD_M2 | file.units


def _check_measure(measure: MeasurePart, units: dict[str, float], source: str) -> None:
    groups = re.compile(measure.reply).groupindex
    where = f"{source}, measure"
    if "value" not in groups:
        raise InputError(
            f"{where}.reply", measure.reply, "a group (?P<value>...)", "Name the value's group."
        )
    if ("unit" in groups) == (measure.unit is not None):
        raise InputError(
            f"{where}.unit",
            measure.unit or "",
            "either unit = ... or a group (?P<unit>...) in reply, one of them",
            "Say once which unit the value is in.",
        )
    if measure.unit is not None and measure.unit not in units:
        raise InputError(
            f"{where}.unit", measure.unit, ", ".join(units), "Use one of these, or add to [units]."
        )
    _check_status("status" in groups, measure.status, where)


def _check_status(has_group: bool, table: dict[str, str], where: str) -> None:
    if has_group and "good" not in table.values():
        raise InputError(
            f"{where}.status",
            ", ".join(table.values()),
            'a table in which at least one status is "good"',
            'Add the status of a sound reading, such as "0" = "good".',
        )
    if table and not has_group:
        raise InputError(
            f"{where}.status",
            ", ".join(table),
            "no table, as reply has no group (?P<status>...)",
            "Name the group in reply, or remove the table.",
        )


def _check_identity(identity: IdentityPart | None, source: str) -> None:
    if identity is None:
        return
    if not {"name", "serial"} & set(re.compile(identity.reply).groupindex):
        raise InputError(
            f"{source}, identity.reply",
            identity.reply,
            "a group (?P<name>...) or (?P<serial>...)",
            "Name a group, or remove [identity].",
        )
