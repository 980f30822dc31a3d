"""The record of a session: what a student did and answered, the truth, and the points.

It can be played again: case, seed and acts give the same exam, so a teacher can check the points.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from analysis.cases.marking import Answer, Score
from protocols.cases.play import Act
from protocols.files import decode_json, read_text, schema_of
from protocols.write import write_whole

Role = Literal["operator", "reader", "participant"]
ROLES: tuple[Role, ...] = ("operator", "reader", "participant")
INVENTED = "No person was examined: field, answers and room are invented."
OWN = "The participant's own exam; its record says who or what pressed the button."


class SessionRecord(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A session, format 1. `acts` are an operator's, `answers` a reader's or a participant's.

    `truth` is the hidden truth as its case wrote it; None where the participant was a person.
    """

    format: Literal[1]
    notice: str
    about: str
    case: str
    case_sha256: str
    seed: Annotated[int, msgspec.Meta(ge=0)]
    role: Role
    student: str
    ended_utc: str
    score: Score
    acts: list[Act] = []
    answers: dict[str, Answer] = {}
    truth: dict[str, Any] | None = None
    versions: dict[str, str] = {}


def record_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a session's record, generated from the types."""
    return schema_of(SessionRecord, "Ripplefield teaching session, format 1")


def record_bytes(record: SessionRecord) -> bytes:
    """The file's content: indented JSON."""
    return msgspec.json.format(msgspec.json.encode(record), indent=2) + b"\n"


def write_record(path: Path, record: SessionRecord) -> Path:
    """Write a session's record whole; returns the path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, record_bytes(record))
    return path


def read_record(path: Path) -> SessionRecord:
    """Read a session's record; raises InputError."""
    return decode_json(SessionRecord, read_text(path, "record"), path.name, "case-record")
