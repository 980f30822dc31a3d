"""The table of results, one row a place, as CSV or Parquet."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from protocols.field import Floats
from protocols.procedures.interface import Ints
from protocols.simulate.outcome import Outcome

if TYPE_CHECKING:
    from protocols.simulate.chunks import Piece

Format = Literal["csv", "parquet"]

COLUMNS = {
    "observer": "code of the observer",
    "repeat": "number of the repeat, from 1",
    "eye": "right or left; each eye is an exam by itself",
    "x_deg": "place, degrees of visual angle, right positive",
    "y_deg": "place, degrees of visual angle, up positive",
    "truth_db": "sensitivity of the observer there, delivered contrast dB",
    "estimate_db": "the procedure's estimate, delivered contrast dB; what lies below full "
    "contrast counts as full contrast",
    "sd_db": "the procedure's SD, dB",
    "low_db": "lower end of the procedure's 95 % interval, delivered contrast dB",
    "high_db": "upper end of that interval",
    "grade": "0 to 4; empty where none can be told",
    "place_presentations": "presentations there, catch trials left out",
    "exam_presentations": "all presentations of the exam, catch trials too",
    "exam_seconds": "from the first onset to the end of the last answer window",
    "finished": "1 if the place came to the end of its procedure, else 0",
    "fixation_rate": "share of targets on the blind spot that were answered",
    "false_positive_rate": "share of blanks that were answered",
    "false_negative_rate": "share of full-contrast checks that were missed",
}


def format_of(path: Path) -> Format:
    """The format a file's name asks for."""
    return "parquet" if path.suffix == ".parquet" else "csv"


def encode(work: Piece, outcome: Outcome, grades: Ints, loss_db: float) -> bytes:
    """A part of the results file, a CSV without header or a whole Parquet file.

    Grades of shape (exams, places).
    """
    table = _table(work, outcome, grades, loss_db)
    return _csv(table) if work.format == "csv" else _parquet(table)


def header(form: Format) -> bytes:
    """What a CSV begins with."""
    return (",".join(COLUMNS) + "\n").encode() if form == "csv" else b""


def join(parts: Iterable[Path], form: Format, target: Path) -> None:
    """Put parts together, in order, a part at a time."""
    if form == "parquet":
        _join_parquet(parts, target)
        return
    with target.open("wb") as file:
        file.write(header(form))
        for part in parts:
            file.write(part.read_bytes())


def _table(work: Piece, outcome: Outcome, grades: Ints, loss_db: float) -> Any:
    import pyarrow as pa

    exams, places = grades.shape
    labels, rates = work.labels, _rates(outcome)
    right = work.protocol.pattern.places
    side = np.where(labels.eyes == "right", 1.0, -1.0)[:, None]
    columns = {
        "observer": pa.array(np.repeat(labels.codes, places).tolist(), pa.string()),
        "repeat": np.repeat(labels.repeats, places),
        "eye": pa.array(np.repeat(labels.eyes, places).tolist(), pa.string()),
        "x_deg": _tidy(side * np.array([place.x_deg for place in right]), 6),
        "y_deg": _tidy(np.tile([place.y_deg for place in right], (exams, 1)), 6),
        "truth_db": work.watchers.sensitivity_db.ravel(),
        "estimate_db": _tidy(outcome.mean_db + loss_db),
        "sd_db": _tidy(outcome.sd_db),
        "low_db": _tidy(outcome.low_db + loss_db),
        "high_db": _tidy(outcome.high_db + loss_db),
        "grade": pa.array(grades.ravel(), pa.int64(), mask=grades.ravel() < 0),
        "place_presentations": outcome.place_presentations.ravel(),
        "exam_presentations": np.repeat(outcome.presentations, places),
        "exam_seconds": np.repeat(_tidy(outcome.seconds, 3), places),
        "finished": outcome.finished.ravel().astype(np.int64),
    }
    for name, kind in zip(tuple(COLUMNS)[-3:], range(3), strict=True):
        values = np.repeat(_tidy(rates[:, kind]), places)
        columns[name] = pa.array(values, pa.float64(), mask=np.isnan(values))
    return pa.table(columns)


def _rates(outcome: Outcome) -> Floats:
    shown = outcome.catch_shown
    return np.where(shown > 0, outcome.catch_wrong / np.maximum(shown, 1), np.nan)


def _tidy(values: Floats, digits: int = 4) -> Floats:
    return np.round(values, digits).ravel() + 0.0


def _csv(table: Any) -> bytes:
    from pyarrow import csv

    buffer = io.BytesIO()
    csv.write_csv(table, buffer, csv.WriteOptions(include_header=False, quoting_style="none"))
    return buffer.getvalue()


def _parquet(table: Any) -> bytes:
    from pyarrow import parquet

    buffer = io.BytesIO()
    parquet.write_table(table, buffer, compression="zstd")
    return buffer.getvalue()


def _join_parquet(parts: Iterable[Path], target: Path) -> None:
    from pyarrow import parquet

    writer = None
    for part in parts:
        table = parquet.read_table(part)
        writer = writer or parquet.ParquetWriter(target, table.schema, compression="zstd")
        writer.write_table(table)
    if writer is not None:
        writer.close()
