"""File formats by number: older ones are brought up step by step, newer ones are refused.

Every format has a number in its files. A change that old files do not fit gets a new number and
one step from the number before; a reader applies the steps in turn and knows today's form alone.
A step takes and returns plain data: the whole file, or for a journal one line's `kind` and `data`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import reduce
from typing import Any

from protocols import __version__
from protocols.errors import InputError

Data = dict[str, Any]
Step = Callable[[Data], Data]
Kind = str


@dataclass(frozen=True)
class Format:
    """A kind of file: the number written today, and the steps, by the number each starts from.

    `otherwise` is what else can be done about a file from the future.
    """

    current: int
    steps: Mapping[int, Step] = field(default_factory=dict)
    otherwise: str = ""

    @property
    def oldest(self) -> int:
        """The oldest number that an unbroken run of steps brings up to today's."""
        number = self.current
        while number - 1 in self.steps:
            number -= 1
        return number


FORMATS: dict[Kind, Format] = {
    "journal": Format(1),
    "result": Format(1),
    "certificate": Format(1, otherwise=", or calibrate again"),
    "protocol": Format(1),
    "pattern": Format(1),
    "observer": Format(1),
    "reference": Format(1),
    "plan": Format(1),
    "pilot": Format(1, otherwise=", or run the pilot again"),
    "case": Format(1),
    "case-record": Format(1),
}
"""Today's formats. No older ones exist yet."""


def current(kind: Kind) -> int:
    """The number that files of this kind bear today."""
    return FORMATS[kind].current


def up_to_date(kind: Kind, data: object, source: str) -> object:
    """A file's plain data in today's form; raises InputError for a file from the future.

    Data without a number is left as it is: the strict reader says what is missing.
    """
    number = number_of(data)
    if not isinstance(data, dict) or number is None:
        return data
    steps = steps_from(kind, number, source, written_by(data))
    if not steps:
        return data
    return reduce(lambda found, step: step(found), steps, dict(data)) | {"format": current(kind)}


def steps_from(kind: Kind, number: int, source: str, writer: str = "") -> tuple[Step, ...]:
    """The steps from a format's number to today's; `writer` is the version that wrote the file.

    Raises InputError for a number this version does not read.
    """
    known = FORMATS[kind]
    if number > known.current:
        raise InputError(
            f"{source}, format",
            number,
            f"up to {known.current}",
            f"It was made by a newer version{_named(writer)}: use that one{known.otherwise}.",
        )
    if number < known.oldest:
        raise InputError(
            f"{source}, format",
            number,
            f"{known.oldest} to {known.current}",
            "No version made it; check where it comes from.",
        )
    return tuple(known.steps[step] for step in range(number, known.current))


def number_of(data: object) -> int | None:
    """The format's number in plain data, None where there is none."""
    number = data.get("format") if isinstance(data, dict) else None
    return number if isinstance(number, int) and not isinstance(number, bool) else None


def written_by(data: Mapping[str, Any]) -> str:
    """The version of this program that wrote a file, empty if the file does not say."""
    versions = data.get("versions")
    return str(versions.get("ripplefield", "")) if isinstance(versions, dict) else ""


def _named(writer: str) -> str:
    return f", {writer}; this is {__version__}" if writer not in ("", __version__) else ""
