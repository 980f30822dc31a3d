"""Reliability of an eye, put together from its trials and places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import betaincinv, ndtr

from analysis.indices.summary import Answers
from analysis.load import ExamRecord, Trial
from analysis.posterior import SLOPE_DB
from analysis.result import PlaceResult
from analysis.verdict.drift import drift
from analysis.verdict.facts import RateEstimate, Trust
from analysis.verdict.presses import Answer, Shares, interval, mean, shares
from analysis.verdict.times import time_check
from analysis.verdict.what_if import Graded, Slip, spread_words, what_ifs
from protocols.field import Floats
from protocols.replay import answer_of
from protocols.verdict import CONCERNS, UNUSABLE, Evidence, heard_of, weigh_heard

LEAST_CHANCE, MOST_CHANCE = 0.01, 0.98
CONCERN_WORDS = {
    "gaze": "the eye left the mark",
    "presses": "presses came at nothing",
    "attention": "strong targets were missed",
}


def trust(
    exam: ExamRecord, trials: Sequence[Trial], places: Sequence[PlaceResult], answers: Answers
) -> Trust | None:
    """Reliability of the eye that these trials are of; None where nothing was answered."""
    told = [t for t in trials if t.told]
    if not told:
        return None
    found = [_answer(exam, trial, places) for trial in told]
    evidence = Evidence()
    for one in found:
        evidence = weigh_heard(evidence, one.heard)
    both = shares(found, evidence.pace)
    false, gaze, misses = _false(found, both), _gaze(found, both), _misses(found)
    seen = [t for t in told if t.seen and t.shown.role in ("place", "full_contrast")]
    ifs = what_ifs(answers, _graded(places), _slips(false, gaze, misses))
    return Trust(
        verdict=evidence.standing,
        verdict_words=_verdict_words(evidence),
        false_presses=false,
        gaze=gaze,
        misses=misses,
        times=time_check(
            [_time_s(exam, t) for t in seen],
            [t.shown.onset_s / 60 for t in seen],
            exam.opened.age_years,
        ),
        drift=drift(answers, _minutes(told, places, answers)),
        what_if=ifs,
        words=spread_words(ifs, _usable(evidence)),
    )


def _answer(exam: ExamRecord, trial: Trial, places: Sequence[PlaceResult]) -> Answer:
    assert trial.answer is not None
    given = answer_of(trial.answer, exam.opened.latency_s)
    heard = heard_of(
        trial.shown.role, given.verdict == "seen", given.verdict == "anticipation", given.presses_s
    )
    return Answer(heard, _chance(trial, places))


def _chance(trial: Trial, places: Sequence[PlaceResult]) -> float | None:
    """Chance that what was shown was seen, by the place's estimate; None on the blind spot."""
    shown = trial.shown
    if shown.role == "blind_spot":
        return None
    if shown.role == "blank" or shown.place_number is None:
        return 0.0
    estimate = places[shown.place_number].estimate_db
    if estimate is None:
        return 0.5
    level = -20 * np.log10(shown.contrast_delivered)
    chance = float(ndtr((estimate - level) / SLOPE_DB))
    return min(max(chance, LEAST_CHANCE), MOST_CHANCE)


def _time_s(exam: ExamRecord, trial: Trial) -> float:
    assert trial.answer is not None
    corrected, raw = trial.answer.corrected_response_time_s, trial.answer.response_time_s
    return (raw or 0.0) - exam.opened.latency_s if corrected is None else corrected


def _false(found: Sequence[Answer], both: Shares) -> RateEstimate:
    events, total = sum(one.heard.stray for one in found), len(found)
    ends = interval(both.uncaused)
    words = f"{events} of {total} presentations met a press that nothing can have caused"
    return _estimate(mean(both.uncaused), ends, events, total, words)


def _gaze(found: Sequence[Answer], both: Shares) -> RateEstimate:
    checks = [one.heard for one in found if one.role == "blind_spot" and not one.heard.early]
    events, total = sum(check.seen for check in checks), len(checks)
    words = f"{events} of {total} targets on the blind spot were answered"
    return _estimate(mean(both.away), interval(both.away), events, total, words)


def _misses(found: Sequence[Answer]) -> RateEstimate:
    """Jeffreys posterior of the share missed at full contrast where a weaker target was seen."""
    checks = [one.heard for one in found if one.role == "full_contrast" and not one.heard.early]
    events, total = sum(not check.seen for check in checks), len(checks)
    wrong, right = events + 0.5, total - events + 0.5
    low, high = betaincinv(wrong, right, [0.025, 0.975])
    words = f"{events} of {total} strong targets were missed where a weaker one was seen"
    return _estimate(wrong / (wrong + right), (float(low), float(high)), events, total, words)


def _estimate(
    rate: float, ends: tuple[float, float], events: int, total: int, counts: str
) -> RateEstimate:
    low, high = (round(end, 4) for end in ends)
    words = f"{counts}; rate {100 * rate:.0f} % (95 %: {100 * low:.0f} to {100 * high:.0f} %)"
    return RateEstimate(round(rate, 4), (low, high), events, total, words)


def _slips(false: RateEstimate, gaze: RateEstimate, misses: RateEstimate) -> list[Slip]:
    return [
        Slip("false presses", "If {} of presentations met a press at nothing", false),
        Slip("misses", "If {} of visible targets were missed", misses),
        Slip("gaze", "If the gaze was elsewhere in {} of presentations", gaze),
    ]


def _graded(places: Sequence[PlaceResult]) -> Graded:
    return Graded(
        flagged=np.array([place.grade is not None and place.grade > 0 for place in places]),
        within=np.array([place.grade == 0 for place in places]),
        limits_db=np.array([place.limit_db for place in places]),
    )


def _minutes(
    told: Sequence[Trial], places: Sequence[PlaceResult], answers: Answers
) -> Floats:
    """When each answer of `answers` came, minutes, (places, trials)."""
    at = {trial.shown.index: trial.shown.onset_s / 60 for trial in told}
    found = np.full(answers.level_db.shape, np.nan)
    for row, place in enumerate(places):
        for column, answer in enumerate(place.answers):
            found[row, column] = at.get(answer.index, np.nan)
    return found


def _usable(evidence: Evidence) -> bool:
    return evidence.standing != UNUSABLE


def _verdict_words(evidence: Evidence) -> str:
    if not any(evidence.decided):
        return "Fine: none of the three tests found fault with the answers."
    reasons = [
        CONCERN_WORDS[concern]
        for concern, count in zip(CONCERNS, evidence.decided, strict=True)
        if count
    ]
    still = "still so after a word: do not use this result"
    end = "the operator was told" if _usable(evidence) else still
    return f"{' and '.join(reasons).capitalize()}; {end}."
