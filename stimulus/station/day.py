"""The end of the day: all sessions as one table, as sums, and as CSV."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timezone

from stimulus.station.again import repeat_advice
from stimulus.station.index import GRADES, EyeSummary, Summary
from stimulus.station.queue_csv import safe_csv

COLUMNS = (
    "exam", "code", "age_years", "operator", "begun_utc", "ended_utc", "seconds", "state",
    "reason", "sitting", "repeat", "sitting_number", "eye", "eye_status", "presentations",
    "places", "grade_0", "grade_1", "grade_2", "grade_3", "grade_4", "gaze_wrong", "gaze_shown",
    "false_presses", "blanks_shown", "strong_missed", "strong_shown", "frames_shown",
    "frames_late", "corrections", "notice",
)  # fmt: skip


@dataclass(frozen=True)
class OperatorLine:
    """Sums of one operator's sessions; `minutes` is the middle length of the finished ones."""

    initials: str
    sessions: int
    finished: int
    not_usable: int
    minutes: float | None


@dataclass(frozen=True)
class Day:
    """All sessions of a day with their sums; one that cannot be read counts as no person's."""

    date: str
    sessions: tuple[Summary, ...]
    people: int
    finished: int
    stopped: int
    repeated: int
    standings: Counter[str]
    places_by_grade: tuple[int, ...]
    people_by_worst_grade: tuple[int, ...]
    people_ungraded: int
    median_minutes: float | None
    longest_minutes: float | None
    frames_shown: int
    frames_late: int
    operators: tuple[OperatorLine, ...]


def days_of(summaries: Sequence[Summary]) -> list[str]:
    """Dates (UTC) on which exams were begun, the newest first."""
    return sorted({s.opened_utc[:10] for s in summaries if s.opened_utc}, reverse=True)


def day_of(summaries: Sequence[Summary], date: str) -> Day:
    """Sums over the exams begun on a date (UTC); all exams for the date "all"."""
    found = tuple(s for s in summaries if date == "all" or s.opened_utc[:10] == date)
    finished = [s for s in found if s.finished]
    minutes = [s.seconds / 60 for s in finished]
    told = tuple(s for s in found if s.code)
    latest = _latest_by_code(told)
    worst = Counter(s.worst_grade for s in latest)
    return Day(
        date=date,
        sessions=found,
        people=len({s.code for s in told}),
        finished=len(finished),
        stopped=len(found) - len(finished),
        repeated=sum(count > 1 for count in Counter(s.code for s in told).values()),
        standings=Counter(s.standing or "not readable" for s in found),
        places_by_grade=tuple(
            sum(eye.by_grade[g] for s in latest for eye in s.eyes) for g in GRADES
        ),
        people_by_worst_grade=tuple(worst.get(g, 0) for g in GRADES),
        people_ungraded=worst.get(None, 0),
        median_minutes=statistics.median(minutes) if minutes else None,
        longest_minutes=max(minutes, default=None),
        frames_shown=sum(s.frames_shown for s in found),
        frames_late=sum(s.frames_late for s in found),
        operators=_operators(found),
    )


def _latest_by_code(found: Sequence[Summary]) -> list[Summary]:
    """Each person's last sitting: a repeat stands for the one before it."""
    return list({s.code: s for s in sorted(found, key=lambda s: s.opened_utc)}.values())


def _operators(found: Sequence[Summary]) -> tuple[OperatorLine, ...]:
    lines = []
    for initials in sorted({s.initials for s in found}):
        own = [s for s in found if s.initials == initials]
        minutes = [s.seconds / 60 for s in own if s.finished]
        lines.append(
            OperatorLine(
                initials or "not known",
                len(own),
                len(minutes),
                sum(s.standing == "not usable" for s in own),
                statistics.median(minutes) if minutes else None,
            )
        )
    return tuple(lines)


def day_csv(day: Day, notice: str) -> str:
    """One row an eye of an exam, every cell safe for spreadsheets."""
    number: Counter[str] = Counter()
    rows = []
    for summary in day.sessions:
        number[summary.code] += 1
        for eye in summary.eyes or (None,):
            rows.append([*_session_cells(summary, number[summary.code]), *_eye_cells(eye),
                         summary.frames_shown, summary.frames_late,
                         "; ".join(summary.corrections), notice])  # fmt: skip
    return safe_csv(COLUMNS, rows)


def _session_cells(summary: Summary, number: int) -> list[object]:
    return [
        summary.exam, summary.code, summary.age_years, summary.initials, summary.opened_utc,
        summary.ended_utc, summary.seconds, summary.state, summary.reason or summary.trouble,
        summary.standing, repeat_advice(summary).weight, number,
    ]  # fmt: skip


def _eye_cells(eye: EyeSummary | None) -> list[object]:
    if eye is None:
        return [""] * 15
    return [
        eye.eye, eye.status, eye.presentations, eye.places, *eye.by_grade, *eye.gaze,
        *eye.presses, *eye.attention,
    ]  # fmt: skip


def today() -> str:
    """Today's date in UTC."""
    return datetime.now(timezone.utc).date().isoformat()
