"""Reading a folder's exam for a healthy sample."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from analysis.grade import grade_exam
from analysis.load import load_exam
from analysis.reference import load_reference
from analysis.reference_build.sample import Exam


def read_healthy(folder: Path) -> Exam:
    """An exam graded against its own reference, without what a sample does not need.

    Raises InputError for a folder that holds no exam.
    """
    record = load_exam(folder)
    result = grade_exam(record, load_reference(folder / "reference.toml"))
    return Exam(folder, replace(record, entries=(), trials=()), result)
