"""From the trials of one eye to a result for each place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.field_posterior import field_posteriors
from analysis.grading import Grade, grade_by_tries, most_probable_grade
from analysis.load import ExamRecord, Trial
from analysis.posterior import TOP_DB, Posterior, place_posterior
from analysis.reference import Reference, limits_db, mean_db
from analysis.result import PlaceAnswer, PlaceResult
from analysis.told import told_again
from protocols.errors import InputError
from protocols.field import Eye, Floats, Place
from protocols.procedures.settings import RisingSettings

NOT_SEEN = 4


def floor_db(exam: ExamRecord) -> float:
    """Delivered contrast dB of the display's full contrast."""
    return float(-20 * np.log10(exam.opened.delivery)) + 0.0


def place_results(exam: ExamRecord, eye: Eye, reference: Reference) -> list[PlaceResult]:
    """Results of all places of an eye, in the pattern's order.

    Raises InputError for a reference that does not cover the age, the places or the levels.
    """
    places = exam.protocol.pattern.for_eye(eye)
    age = exam.opened.age_years
    limits = limits_db(reference, places, age, eye)
    means = mean_db(reference, places, age, eye)
    _require_on_scale(reference, means, floor_db(exam))
    by_place = _by_place(exam.of_eye(eye), len(places))
    told = told_again(exam, eye)
    ended = told.ended
    posteriors = field_posteriors(exam, told) or [
        place_posterior(trials, float(mean), reference.file.spread_db, floor_db(exam))
        for trials, mean in zip(by_place, means, strict=True)
    ]
    return [
        _place_result(
            exam,
            posteriors[number],
            number,
            place,
            by_place[number],
            limits[number],
            means[number],
            ended[number],
        )
        for number, place in enumerate(places)
    ]


def _require_on_scale(reference: Reference, means: Floats, floor: float) -> None:
    """Raise InputError for a reference whose people this display could not have told apart."""
    for number, mean in enumerate(means.tolist()):
        if not floor <= mean <= TOP_DB:
            raise InputError(
                "reference",
                f"{reference.file.name}, a mean of {mean:.1f} dB at place {number}",
                f"means from {floor:.1f} dB, the display's full contrast, to {TOP_DB:g} dB",
                "Use a reference that was made for such targets and displays.",
            )


def _by_place(trials: Sequence[Trial], count: int) -> list[list[Trial]]:
    """Counting trials of each place; full-contrast checks inform its place too."""
    found: list[list[Trial]] = [[] for _ in range(count)]
    for trial in trials:
        number = trial.shown.place_number
        if trial.counts and number is not None and trial.shown.role in ("place", "full_contrast"):
            found[number].append(trial)
    return found


def _place_result(
    exam: ExamRecord,
    posterior: Posterior,
    number: int,
    place: Place,
    trials: list[Trial],
    limit: float,
    mean: float,
    finished: bool,
) -> PlaceResult:
    floor = floor_db(exam)
    tries = [trial for trial in trials if trial.shown.role == "place"]
    seen = any(trial.seen for trial in tries)
    grade = _grade(exam, posterior, limit, len(tries), seen, finished)
    estimate, bound = _estimate(posterior, tries, floor, finished, grade.grade)
    return PlaceResult(
        number=number,
        x_deg=round(place.x_deg, 6),
        y_deg=round(place.y_deg, 6),
        grade=grade.grade,
        grade_probability=_rounded(grade.probability),
        grade_trusted=grade.trusted,
        grade_probabilities=[round(p, 4) for p in grade.probabilities],
        estimate_db=_rounded(estimate),
        interval_db=_pair(posterior.interval_db()),
        bound=bound,
        limit_db=round(float(limit), 4),
        reference_mean_db=round(float(mean), 4),
        below_limit_db=None if estimate is None else round(max(0.0, float(limit) - estimate), 4),
        tries=len(tries),
        seen=seen,
        answers=[_answer(trial) for trial in trials],
    )


def _grade(
    exam: ExamRecord, posterior: Posterior, limit: float, tries: int, seen: bool, finished: bool
) -> Grade:
    first_at_limit = not exam.eye_corrected  # else first levels were another eye's limits
    if first_at_limit and isinstance(exam.protocol.settings.procedure, RisingSettings):
        return grade_by_tries(posterior, limit, floor_db(exam), tries, seen, finished)
    return most_probable_grade(posterior, limit, floor_db(exam), finished)


def _estimate(
    posterior: Posterior, tries: list[Trial], floor: float, finished: bool, grade: int | None
) -> tuple[float | None, str]:
    """Estimate with its direction: at grade 4 at most the display's full contrast.

    Where nothing was seen but full contrast was not tried either, the posterior's mean stands.
    """
    if not finished:
        return None, "unknown"
    if grade == NOT_SEEN:
        return floor, "at most"
    all_seen = bool(tries) and all(trial.seen for trial in tries)
    return posterior.mean_db, "at least" if all_seen else "between"


def _answer(trial: Trial) -> PlaceAnswer:
    answer = trial.answer
    return PlaceAnswer(
        index=trial.shown.index,
        role=trial.shown.role,
        level_db=round(float(-20 * np.log10(trial.shown.contrast_delivered)) + 0.0, 4),
        seen=trial.seen,
        response_time_s=answer.response_time_s if answer is not None and trial.seen else None,
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(float(value), 4)


def _pair(values: tuple[float, float]) -> tuple[float, float]:
    return round(values[0], 4), round(values[1], 4)
