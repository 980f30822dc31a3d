"""Answers of a matching by eye, one a line, on disk before the next is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

import msgspec

from calibration.certificate import Identity
from calibration.instruments.eye_match import Look, MatchPlan
from calibration.instruments.reading_log import NOTICE, write_line
from protocols.errors import InputError
from protocols.files import decode_json


class Begun(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """First line: which display, which matching."""

    format: Literal[1] = 1
    notice: str = NOTICE
    display: Identity
    channels: list[str]
    depth: int
    settings: int
    seed: int


class Answer(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Every other line: how the plain side looked."""

    look: Look


@dataclass
class Answers:
    """The answers so far, and the file they are kept in."""

    path: Path
    given: list[Look]
    _file: IO[bytes]
    _begun: Begun

    def append(self, look: Look) -> None:
        """Write an answer and wait until it is on disk; raises RecordStuck."""
        write_line(self._file, Answer(look=look), self.path)
        self.given.append(look)

    def drop_last(self) -> None:
        """Take the last answer back: it could not be."""
        del self.given[-1:]
        self._file.seek(0)
        self._file.truncate()
        for line in (self._begun, *(Answer(look=look) for look in self.given)):
            write_line(self._file, line, self.path)

    @property
    def kept(self) -> str:
        """What a message says of them."""
        return f"{len(self.given)} answers are kept in {self.path}: the same command goes on."


@contextmanager
def kept_answers(path: Path, display: Identity, plan: MatchPlan) -> Iterator[Answers]:
    """The answers at `path` to go on with, or none yet.

    Raises InputError for a file of another display or matching, or one that is no such file.
    """
    begun = Begun(
        display=display,
        channels=list(plan.channels),
        depth=plan.depth,
        settings=plan.settings,
        seed=plan.seed,
    )
    given = _answers(path, begun)
    with open(path, "r+b" if given is not None else "wb", buffering=0) as file:
        if given is None:
            write_line(file, begun, path)
        file.truncate(_whole_length(path))
        file.seek(0, 2)
        yield Answers(path, given or [], file, begun)


def _answers(path: Path, begun: Begun) -> list[Look] | None:
    """What the file holds; None where there is none, or a crash tore its first line."""
    lines = path.read_bytes()[: _whole_length(path)].splitlines() if path.exists() else []
    if not lines:
        return None
    found = decode_json(Begun, lines[0], f"{path}, line 1")
    if found != begun:
        raise InputError(
            str(path),
            "answers of another display, depth or seed",
            "answers of the matching that is asked for",
            "Go on with the same command, or remove the file to begin anew.",
        )
    return [
        decode_json(Answer, line, f"{path}, line {number}").look
        for number, line in enumerate(lines[1:], start=2)
    ]


def _whole_length(path: Path) -> int:
    """Bytes up to the end of the last whole line: a crash may have torn the one after it."""
    return path.read_bytes().rfind(b"\n") + 1
