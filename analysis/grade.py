"""Grading an exam: from its journal to `result.json` and tables, the same bytes every time."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from analysis.corrected import correction_words
from analysis.indices.of_exam import answers_of, with_indices
from analysis.indices.quantiles import row_quantiles
from analysis.load import ExamRecord, Trial, load_exam
from analysis.next_step import told_in_full
from analysis.places import floor_db, place_results
from analysis.reference import Reference, load_reference
from analysis.reliability import reliability
from analysis.result import (
    UNIT_NOTE,
    ExamFacts,
    EyeResult,
    Light,
    PlaceResult,
    ResponseTimes,
    Result,
    SafetyFacts,
    Summary,
    Timing,
    result_bytes,
)
from analysis.sentences import eye_sentence
from analysis.tables import places_csv, presentations_csv
from analysis.verdict.trust import trust
from protocols.events import AnsweredLine
from protocols.field import Eye
from protocols.procedures.interface import Ints
from protocols.write import write_whole


def grade_exam(exam: ExamRecord, reference: Reference) -> Result:
    """The result of an exam against a reference."""
    return Result(
        format=1,
        notice=exam.opened.notice,
        unit_note=UNIT_NOTE,
        exam=_exam_facts(exam),
        eyes={eye: _eye_result(exam, eye, reference) for eye in exam.opened.eyes},
        reference=reference.facts,
        display=_light(exam),
        timing=_timing(exam),
        safety=_safety(exam),
        advice=[advice.text for advice in exam.advice],
        versions=exam.opened.versions,
        journal_sha256=exam.journal_sha256,
        journal_lines=len(exam.entries),
        corrections=correction_words(exam.corrections),
    )


def grade_folder(folder: Path, reference: Reference | None = None) -> Result:
    """Grade an exam's folder and write result.json, places.csv and presentations.csv into it.

    The reference is the one the exam was run with, unless another is given.
    """
    exam = load_exam(folder)
    result = grade_exam(exam, reference or load_reference(folder / "reference.toml"))
    write_whole(folder / "result.json", result_bytes(result), lasting=False)
    write_whole(folder / "places.csv", places_csv(result).encode(), lasting=False)
    write_whole(folder / "presentations.csv", presentations_csv(exam).encode(), lasting=False)
    return result


def _eye_result(exam: ExamRecord, eye: Eye, reference: Reference) -> EyeResult:
    trials = exam.of_eye(eye)
    tested = [trial for trial in trials if not trial.shown.practice]
    places = place_results(exam, eye, reference)
    rates = reliability(trials)
    status = _status(exam, eye, places)
    answers = answers_of(places, reference.file.spread_db, floor_db(exam))
    found, places = with_indices(exam, places, answers)
    told = EyeResult(
        status=status,
        sentence=eye_sentence(eye, status, places, exam.eye_corrected),
        places=places,
        summary=_summary(places),
        reliability=rates,
        response_times=_response_times(tested),
        presentations=len(tested),
        seconds=_seconds(exam, tested),
        indices=found,
        trust=trust(exam, trials, places, answers),
    )
    return told_in_full(told)


def _status(exam: ExamRecord, eye: Eye, places: Sequence[PlaceResult]) -> str:
    if any(line.skipped and line.eye == eye for _, line in exam.eye_starts):
        return "skipped"
    if all(place.estimate_db is not None for place in places):
        return "complete"
    return "partial" if exam.of_eye(eye) else "not begun"


def _summary(places: Sequence[PlaceResult]) -> Summary:
    grades = [place.grade for place in places if place.grade is not None]
    below = [place.below_limit_db for place in places if place.below_limit_db is not None]
    mean, interval = _mean_with_interval(below)
    return Summary(
        places=len(places),
        graded=len(grades),
        by_grade=[grades.count(grade) for grade in range(5)],
        within_limit=grades.count(0),
        mean_below_limit_db=mean,
        mean_below_limit_interval_db=interval,
    )


def _mean_with_interval(
    values: Sequence[float],
) -> tuple[float | None, tuple[float, float] | None]:
    """Mean over places and its 95 % percentile-bootstrap interval over places (fixed seed)."""
    if not values:
        return None, None
    data = np.asarray(values)
    draws = data[_drawn_again(len(data))].mean(axis=1)
    low, high = row_quantiles(draws[None], [0.025, 0.975])[:, 0]
    return round(float(data.mean()), 4), (round(float(low), 4), round(float(high), 4))


@lru_cache(maxsize=64)
def _drawn_again(count: int) -> Ints:
    """Which of so many values each of 2000 samples draws again, (2000, count)."""
    return np.random.default_rng(0).integers(0, count, (2000, count))


def _corrected_s(answer: AnsweredLine) -> float:
    """Response time less the known delay; records of before the delay was kept have none."""
    corrected, raw = answer.corrected_response_time_s, answer.response_time_s
    return (raw or 0.0) if corrected is None else corrected


def _response_times(trials: Sequence[Trial]) -> ResponseTimes:
    times = sorted(
        _corrected_s(trial.answer)
        for trial in trials
        if trial.seen and trial.answer is not None and trial.answer.response_time_s is not None
    )
    if not times:
        return ResponseTimes(0, None, None)
    low, high = np.quantile(times, [0.25, 0.75])
    return ResponseTimes(
        len(times), statistics.median(times), (round(float(low), 6), round(float(high), 6))
    )


def _seconds(exam: ExamRecord, trials: Sequence[Trial]) -> float | None:
    """Seconds from the first onset of an eye to the end of its last answer window."""
    if not trials:
        return None
    window = exam.protocol.settings.answering.accept_until_s
    return round(trials[-1].shown.onset_s + window - trials[0].shown.onset_s, 3)


def _exam_facts(exam: ExamRecord) -> ExamFacts:
    opened, first, last = exam.opened, exam.entries[0], exam.entries[-1]
    return ExamFacts(
        participant=opened.participant,
        age_years=opened.age_years,
        opened_utc=first.utc,
        ended_utc=last.utc,
        seconds=round(last.t_s - first.t_s, 3),
        protocol=opened.protocol,
        protocol_sha256=opened.protocol_sha256,
        procedure=str(type(exam.protocol.settings.procedure).__struct_config__.tag),
        seed=opened.seed,
        finished=exam.closed is not None and exam.closed.phase == "finished",
        reason="the record ends without a close" if exam.closed is None else exam.closed.reason,
        simulated=opened.simulated,
        button=opened.button.name,
        button_resolution_s=opened.button.resolution_s,
        command=opened.command,
    )


def _light(exam: ExamRecord) -> Light:
    display = exam.display
    return Light(
        calibrated=display.calibrated,
        words=display.words,
        flicker_wanted_hz=display.flicker_wanted_hz,
        flicker_hz=display.flicker_hz,
        frame_hold=display.frame_hold,
        panel_response=display.panel_response,
        full_contrast_delivered_db=round(floor_db(exam), 4),
        mean_luminance_cd_m2=display.mean_luminance_cd_m2,
        transfer=display.transfer,
        distance_cm=display.distance_cm,
        width_cm=display.width_cm,
        height_cm=display.height_cm,
        width_px=display.width_px,
        height_px=display.height_px,
        certificate_sha256=display.certificate_sha256,
    )


def _timing(exam: ExamRecord) -> Timing:
    shown = [trial.shown for trial in exam.trials]
    return Timing(
        display_locked=exam.display.display_locked,
        refresh_hz=exam.display.refresh_hz,
        presentations=len(shown),
        spoiled=sum(line.spoiled for line in shown),
        frames_wanted=sum(line.frames_wanted for line in shown),
        frames_shown=sum(line.frames_shown for line in shown),
        frames_late=sum(line.frames_late for line in shown),
    )


def _count_over(verdicts: Sequence[bool | None]) -> int | None:
    """How many lay over; None where one of them could not be judged."""
    known = [verdict for verdict in verdicts if verdict is not None]
    return sum(known) if len(known) == len(verdicts) else None


def _safety(exam: ExamRecord) -> SafetyFacts:
    shown = [trial.shown for trial in exam.trials]
    caution = exam.caution
    return SafetyFacts(
        confirmed_by=caution.confirmed_by if caution else "",
        override_reason=caution.override_reason if caution else "",
        over_wcag=sum(line.over_wcag for line in shown),
        over_bt1702=_count_over([line.over_bt1702 for line in shown]),
        largest_area_sr=max((line.area_sr for line in shown), default=0.0),
        largest_swing_relative=max((line.swing_relative for line in shown), default=0.0),
    )
