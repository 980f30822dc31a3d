"""An exam ready to be shown: its record and its result, read from its folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.grade import grade_exam
from analysis.load import ExamRecord, load_exam
from analysis.reference import Reference, load_reference
from analysis.result import EyeResult, Result
from protocols.errors import InputError
from protocols.field import Eye

EYES_AS_SEEN: tuple[Eye, Eye] = ("left", "right")
"""Order on the page: as the participant sees, so that both temporal fields lie outside."""


@dataclass(frozen=True)
class Shown:
    """Record and result of one exam."""

    record: ExamRecord
    result: Result

    @property
    def eyes(self) -> tuple[tuple[Eye, EyeResult], ...]:
        """The eyes asked for, the left one first."""
        found = self.result.eyes
        return tuple((eye, found[eye]) for eye in EYES_AS_SEEN if eye in found)


def read_exams(folders: Sequence[Path], reference: Reference | None) -> list[Shown]:
    """Read and grade exams, each against its own reference unless one is given.

    Raises InputError without a folder and for a folder that holds no exam.
    """
    if not folders:
        raise InputError("exam folder", "", "at least one folder", "Name an exam's folder.")
    return [_read(folder, reference) for folder in folders]


def _read(folder: Path, reference: Reference | None) -> Shown:
    record = load_exam(folder)
    return Shown(
        record, grade_exam(record, reference or load_reference(folder / "reference.toml"))
    )
