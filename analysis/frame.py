"""Exams as a pandas data frame.

    >>> import analysis                                     # doctest: +SKIP
    >>> frame = analysis.load("exams")                      # doctest: +SKIP
    >>> frame.groupby("participant").below_limit_db.mean()  # doctest: +SKIP

`frame.attrs` holds the research notice, the note on the unit, and unit and meaning of each column
(`analysis.columns`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

import pandas as pd

from analysis.columns import (
    PLACE_COLUMNS,
    PRESENTATION_COLUMNS,
    Column,
    Row,
    place_rows,
    presentation_rows,
)
from analysis.grade import grade_exam
from analysis.load import load_exam
from analysis.many import exams_below, on_each
from analysis.reference import Reference, load_reference
from analysis.result import UNIT_NOTE
from protocols import RESEARCH_ONLY
from protocols.errors import InputError

COLUMNS: Mapping[str, Mapping[str, Column]] = {
    "places": PLACE_COLUMNS,
    "presentations": PRESENTATION_COLUMNS,
}


def load(
    path: str | Path | Sequence[str | Path],
    rows: str = "places",
    reference: str | Path | None = None,
    workers: int | None = None,
) -> pd.DataFrame:
    """Exams as a frame, one row a place of an eye, or with rows="presentations" a presentation.

    `path` is an exam's folder, a folder of such folders, or several. Grades are worked out anew
    from the journals, against each exam's own reference or the one given; nothing is written.
    Columns and units: `COLUMNS[rows]`. Raises InputError for what is no exam.
    """
    if rows not in COLUMNS:
        raise InputError("rows", rows, " or ".join(COLUMNS), "Choose one of them.")
    chosen = None if reference is None else load_reference(Path(reference))
    folders = exams_below([Path(p) for p in ([path] if isinstance(path, (str, Path)) else path)])
    work = partial(_rows_of, rows=rows, reference=chosen)
    found = [row for part in on_each(work, folders, workers) for row in part]
    return _frame(found, rows)


def _rows_of(folder: Path, rows: str, reference: Reference | None) -> list[Row]:
    exam = load_exam(folder)
    result = grade_exam(exam, reference or load_reference(folder / "reference.toml"))
    if rows == "places":
        return list(place_rows(folder.name, result))
    return list(presentation_rows(folder.name, exam, result))


def _frame(found: list[Row], rows: str) -> pd.DataFrame:
    columns = COLUMNS[rows]
    frame = pd.DataFrame(found, columns=list(columns)).astype(
        {name: column.kind for name, column in columns.items()}
    )
    frame.attrs = {
        "notice": RESEARCH_ONLY,
        "unit_note": UNIT_NOTE,
        "columns": {name: tuple(column[:2]) for name, column in columns.items()},
    }
    return frame

