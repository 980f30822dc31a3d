"""Tidy tables of exams: each column with its unit and meaning, and the rows behind them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from analysis.load import ExamRecord, Trial
from analysis.result import EyeResult, PlaceResult, Result


class Column(NamedTuple):
    """Unit ("" for none) and meaning of a column, and the pandas type that leaves room for gaps."""

    unit: str
    meaning: str
    kind: str = "string"


def _number(unit: str, meaning: str) -> Column:
    return Column(unit, meaning, "Float64")


def _count(unit: str, meaning: str) -> Column:
    return Column(unit, meaning, "Int64")


def _yes_no(meaning: str) -> Column:
    return Column("", meaning, "boolean")


EXAM_COLUMNS: Mapping[str, Column] = {
    "exam": Column("", "name of the exam's folder"),
    "participant": Column("", "code of the participant"),
    "age_years": _count("years", "age at the exam"),
    "opened_utc": Column("ISO 8601", "when the exam was opened"),
    "protocol": Column("", "name of the protocol"),
    "procedure": Column("", "kind of procedure"),
    "simulated": _yes_no("whether no person was examined"),
    "calibrated": _yes_no("whether the display had a certificate"),
    "eye": Column("", "right or left"),
}
PLACE_COLUMNS: Mapping[str, Column] = {
    **EXAM_COLUMNS,
    "status": Column("", "complete, partial, skipped or not begun"),
    "number": _count("", "place, from 0, in the pattern's order"),
    "x_deg": _number("degrees", "rightwards from fixation as the participant sees it"),
    "y_deg": _number("degrees", "upwards"),
    "temporal_deg": _number("degrees", "towards the temporal field: x of the right eye's place"),
    "grade": _count("", "0 to 4; missing where none can be told"),
    "grade_probability": _number("share", "probability of that grade"),
    "grade_trusted": _yes_no("whether the grade is more likely than not"),
    "estimate_db": _number("contrast dB", "sensitivity, delivered contrast; missing if unfinished"),
    "bound": Column("", "between, at least, at most: which way the estimate is open; unknown"),
    "low_db": _number("contrast dB", "lower end of the 95 % interval"),
    "high_db": _number("contrast dB", "upper end of the 95 % interval"),
    "limit_db": _number("contrast dB", "level that 99 % of people of this age see"),
    "reference_mean_db": _number("contrast dB", "mean of people of this age"),
    "below_limit_db": _number("dB", "depth below the limit, 0 within it"),
    "tries": _count("count", "presentations of the procedure at the place"),
    "seen": _yes_no("whether any of them was seen"),
    "eye_presentations": _count("count", "all presentations to the eye, catch trials too"),
    "eye_seconds": _number("s", "from its first onset to its last answer window's end"),
    "fixation_shown": _count("count", "targets shown on the blind spot"),
    "fixation_wrong": _count("count", "of them answered"),
    "false_positive_shown": _count("count", "blanks"),
    "false_positive_wrong": _count("count", "of them answered"),
    "false_negative_shown": _count("count", "full-contrast repeats"),
    "false_negative_wrong": _count("count", "of them missed"),
    "reference": Column("", "name of the reference"),
    "reference_synthetic": _yes_no("whether the reference is invented"),
}
PRESENTATION_COLUMNS: Mapping[str, Column] = {
    **EXAM_COLUMNS,
    "index": _count("", "number of the presentation, from 0"),
    "role": Column("", "place, blind_spot, blank or full_contrast"),
    "practice": _yes_no("whether it was practice"),
    "number": _count("", "place, from 0; missing for the blind spot"),
    "x_deg": _number("degrees", "rightwards from fixation as the participant sees it"),
    "y_deg": _number("degrees", "upwards"),
    "level_db": _number("contrast dB", "nominal level; missing for a blank"),
    "delivered_db": _number("contrast dB", "level that the display showed; missing for a blank"),
    "onset_s": _number("s", "onset on the journal's clock"),
    "verdict": Column("", "seen, not_seen, anticipation, late or cut short"),
    "response_time_s": _number("s", "from onset to the deciding press, as stamped"),
    "corrected_response_time_s": _number("s", "less the known delay of display and button"),
    "frames_late": _count("count", "frames shown late"),
    "spoiled": _yes_no("whether the presentation says nothing"),
}

Row = dict[str, Any]


def place_rows(name: str, result: Result) -> Iterator[Row]:
    """One row a place of each eye, keyed by `PLACE_COLUMNS`."""
    for side, eye in result.eyes.items():
        head = _head(name, result, side) | _eye_cells(eye)
        tail = {
            "reference": result.reference.name,
            "reference_synthetic": result.reference.synthetic,
        }
        for place in eye.places:
            row = head | _place_cells(side, place) | tail
            yield {column: row[column] for column in PLACE_COLUMNS}


def presentation_rows(name: str, exam: ExamRecord, result: Result) -> Iterator[Row]:
    """One row a presentation, catch trials and practice too, keyed by `PRESENTATION_COLUMNS`."""
    for trial in exam.trials:
        yield _head(name, result, trial.shown.eye) | _trial_cells(trial)


def csv_text(columns: Sequence[str], rows: Iterable[Row]) -> str:
    """Rows as CSV; what is missing is an empty cell."""
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _head(name: str, result: Result, eye: str) -> Row:
    exam = result.exam
    return {
        "exam": name,
        "participant": exam.participant,
        "age_years": exam.age_years,
        "opened_utc": exam.opened_utc,
        "protocol": exam.protocol,
        "procedure": exam.procedure,
        "simulated": exam.simulated,
        "calibrated": result.display.calibrated,
        "eye": eye,
    }


def _eye_cells(eye: EyeResult) -> Row:
    cells: Row = {
        "status": eye.status,
        "eye_presentations": eye.presentations,
        "eye_seconds": eye.seconds,
    }
    for kind in ("fixation", "false_positive", "false_negative"):
        rate = getattr(eye.reliability, kind)
        cells |= {f"{kind}_shown": rate.shown, f"{kind}_wrong": rate.wrong}
    return cells


def _place_cells(eye: str, place: PlaceResult) -> Row:
    low_db, high_db = place.interval_db
    kept = (
        "number", "x_deg", "y_deg", "grade", "grade_probability", "grade_trusted", "estimate_db",
        "bound", "limit_db", "reference_mean_db", "below_limit_db", "tries", "seen",
    )  # fmt: skip
    return {column: getattr(place, column) for column in kept} | {
        "temporal_deg": place.x_deg if eye == "right" else -place.x_deg + 0.0,
        "low_db": low_db,
        "high_db": high_db,
    }


def _trial_cells(trial: Trial) -> Row:
    shown, answer = trial.shown, trial.answer
    contrast = shown.contrast_delivered
    kept = (
        "index", "role", "practice", "x_deg", "y_deg", "level_db", "onset_s", "frames_late",
        "spoiled",
    )  # fmt: skip
    row = {column: getattr(shown, column) for column in kept} | {
        "number": shown.place_number,
        "delivered_db": float(-20 * np.log10(contrast)) + 0.0 if contrast > 0 else None,
        "verdict": answer.verdict if answer else "cut short",
        "response_time_s": answer.response_time_s if answer else None,
        "corrected_response_time_s": answer.corrected_response_time_s if answer else None,
    }
    return {column: row[column] for column in PRESENTATION_COLUMNS if column in row}
