"""The numbers behind every picture, as CSV text. Units end each column's name."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from analysis.load import ExamRecord, Trial
from analysis.result import PlaceResult, Result

PLACE_COLUMNS = (
    "eye", "number", "x_deg", "y_deg", "grade", "grade_probability", "estimate_db", "bound",
    "low_db", "high_db", "limit_db", "below_limit_db", "tries", "seen",
)  # fmt: skip

PRESENTATION_COLUMNS = (
    "index", "eye", "role", "practice", "x_deg", "y_deg", "level_db", "contrast_nominal",
    "contrast_delivered", "onset_s", "verdict", "press_s", "response_time_s", "frames_wanted",
    "frames_shown", "frames_late", "spoiled", "over_wcag",
)  # fmt: skip


def places_csv(result: Result) -> str:
    """One row a place, both eyes."""
    return _csv(
        PLACE_COLUMNS,
        (_place_row(eye, place) for eye, found in result.eyes.items() for place in found.places),
    )


def presentations_csv(exam: ExamRecord) -> str:
    """One row a presentation, catch trials and practice too."""
    return _csv(PRESENTATION_COLUMNS, (_presentation_row(trial) for trial in exam.trials))


def _place_row(eye: str, place: PlaceResult) -> Sequence[object]:
    low, high = place.interval_db
    values = (eye, place.number, place.x_deg, place.y_deg, place.grade, place.grade_probability)
    levels = (place.estimate_db, place.bound, low, high, place.limit_db, place.below_limit_db)
    return (*values, *levels, place.tries, place.seen)


def _presentation_row(trial: Trial) -> Sequence[object]:
    answer = trial.answer
    given = {
        "verdict": answer.verdict if answer else "cut short",
        "press_s": answer.press_s if answer else None,
        "response_time_s": answer.response_time_s if answer else None,
    }
    return [
        given[column] if column in given else getattr(trial.shown, column)
        for column in PRESENTATION_COLUMNS
    ]


def _csv(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()
