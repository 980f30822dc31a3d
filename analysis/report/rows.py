"""The numbers behind each picture of an eye, as rows of text."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.figures.intervals import deviation_db, sorted_places
from analysis.figures.reliability import rates
from analysis.figures.session import Session
from analysis.figures.words import (
    NO_NUMBER,
    below_text,
    grade_text,
    interval_text,
    level_text,
    one_decimal,
    rate_text,
)
from analysis.load import Trial
from analysis.report.more_rows import field_tables, index_text, trust_tables
from analysis.report.table import Table as Table
from analysis.result import EyeResult, PlaceResult, Rate


def tables(eye: EyeResult, trials: Sequence[Trial], session: Session | None) -> tuple[Table, ...]:
    """Places, the whole field, catch trials, reliability, and every presentation."""
    found = (
        places_table(eye.places),
        *field_tables(eye.indices),
        catch_table(eye),
        *trust_tables(eye.trust),
    )
    return found if session is None else (*found, presentations_table(trials, session))


def places_table(places: Sequence[PlaceResult]) -> Table:
    """Field and intervals as a table, the deepest place first."""
    heads = (
        "Place", "x, °", "y, °", "Level, dB", "Estimate, dB", "95 % interval, dB", "Limit, dB",
        "From the limit, dB", "Below it, dB", "Tries", "Grade", "Probability", "In words",
        "Deviation, dB", "Pattern deviation, dB", "Stands",
    )  # fmt: skip
    rows = tuple(_place_row(place) for place in sorted_places(places))
    return Table("places", "Places, the deepest first", heads, rows)


def _place_row(place: PlaceResult) -> tuple[str, ...]:
    done = place.estimate_db is not None
    return (
        str(place.number),
        one_decimal(place.x_deg),
        one_decimal(place.y_deg),
        level_text(place),
        NO_NUMBER if place.estimate_db is None else one_decimal(place.estimate_db),
        interval_text(place),
        one_decimal(place.limit_db),
        one_decimal(deviation_db(place)) if done else NO_NUMBER,
        below_text(place),
        str(place.tries),
        NO_NUMBER if place.grade is None else str(place.grade),
        NO_NUMBER if place.grade_probability is None else f"{place.grade_probability:.2f}",
        grade_text(place),
        index_text(place.deviation),
        index_text(place.pattern_deviation),
        _stands(place),
    )


def _stands(place: PlaceResult) -> str:
    """Whether the place's loss stands among all places of the field."""
    if place.stands is None:
        return NO_NUMBER
    return "yes" if place.stands else "no"


def catch_table(eye: EyeResult) -> Table:
    """The three rates, and presses outside the answer window."""
    found = eye.reliability
    rows = [(words, *_rate_cells(rate)) for _, words, rate in rates(found)]
    others = (
        ("pressed too early", found.anticipations),
        ("pressed too late", found.late_answers),
        ("further presses", found.extra_presses),
    )
    rows += [(words, NO_NUMBER, str(count), NO_NUMBER, NO_NUMBER) for words, count in others]
    heads = ("Catch trials", "Shown", "Wrong", "Share", "Count with 95 % interval")
    return Table("catch", "Catch trials and stray presses", heads, tuple(rows))


def _rate_cells(rate: Rate) -> tuple[str, str, str, str]:
    share = NO_NUMBER if rate.rate is None else f"{100 * rate.rate:.0f} %"
    return str(rate.shown), str(rate.wrong), share, rate_text(rate)


def presentations_table(trials: Sequence[Trial], session: Session) -> Table:
    """The time line as a table; times from the eye's first onset."""
    heads = (
        "No.", "At, s", "What", "Place", "Level, dB", "Answer", "Response time, s", "Presses, s",
        "Frames", "Late",
    )  # fmt: skip
    rows = tuple(
        (str(showing.index), f"{showing.at_s:.2f}", *_presentation_cells(trial, showing.level_db))
        for trial, showing in zip(trials, session.showings, strict=True)
    )
    return Table("presentations", "Presentations in order", heads, rows)


def _presentation_cells(trial: Trial, level_db: float | None) -> tuple[str, ...]:
    shown, answer = trial.shown, trial.answer
    what = shown.role.replace("_", " ") + (" (practice)" if shown.practice else "")
    time_s = answer.response_time_s if answer else None
    presses = ", ".join(f"{at:.2f}" for at in answer.presses_s) if answer else ""
    return (
        what,
        NO_NUMBER if shown.place_number is None else str(shown.place_number),
        NO_NUMBER if level_db is None else one_decimal(level_db),
        answer.verdict.replace("_", " ") if answer else "cut short",
        NO_NUMBER if time_s is None else f"{time_s:.3f}",
        presses or NO_NUMBER,
        f"{shown.frames_shown} of {shown.frames_wanted}",
        str(shown.frames_late),
    )
