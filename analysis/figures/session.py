"""What happened while an eye was tested, as times in seconds from its first onset."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10

from analysis.load import ExamRecord, Trial
from protocols.events import Held, Presented, Resumed
from protocols.field import Eye

SEEN, UNSEEN, WRONG, CUT = "seen", "not seen", "wrong", "does not count"


@dataclass(frozen=True)
class Showing:
    """One presentation: when, which lane, level in delivered contrast dB, and how it ended."""

    index: int
    at_s: float
    lane: str
    level_db: float | None
    outcome: str


@dataclass(frozen=True)
class Press:
    """One press; `counted` where it decided an answer."""

    at_s: float
    counted: bool


@dataclass(frozen=True)
class Span:
    """A stretch of time."""

    from_s: float
    to_s: float


@dataclass(frozen=True)
class Session:
    """One eye's stretch of an exam; `rest_s` is the pause since the eye before it."""

    showings: tuple[Showing, ...]
    presses: tuple[Press, ...]
    practice: Span | None
    holds: tuple[Span, ...]
    rest_s: float | None
    seconds: float


def session_of(exam: ExamRecord, eye: Eye) -> Session | None:
    """The eye's session; None if nothing was shown to it."""
    trials = exam.of_eye(eye)
    if not trials:
        return None
    window = exam.protocol.settings.answering.accept_until_s
    zero, end = trials[0].shown.onset_s, trials[-1].shown.onset_s + window
    return Session(
        showings=tuple(_showing(trial, zero) for trial in trials),
        presses=tuple(press for trial in trials for press in _presses(trial, zero)),
        practice=_practice(trials, zero, window),
        holds=_holds(exam, zero, end),
        rest_s=_rest_s(exam, zero, window),
        seconds=end - zero,
    )


def _showing(trial: Trial, zero: float) -> Showing:
    shown = trial.shown
    level = None if shown.role == "blank" else delivered_db(shown)
    return Showing(shown.index, shown.onset_s - zero, shown.role, level, outcome(trial))


def delivered_db(shown: Presented) -> float | None:
    """Delivered contrast in dB, rounded as in the result; None without contrast."""
    if shown.contrast_delivered <= 0:
        return None
    return round(-20 * log10(shown.contrast_delivered), 4) + 0.0


def outcome(trial: Trial) -> str:
    """How a presentation ended: seen, not seen, wrong (catch trials), or not counting."""
    answer = trial.answer
    if answer is None or trial.void or trial.shown.spoiled or answer.verdict == "anticipation":
        return CUT
    wrong_if_seen = {"blind_spot": True, "blank": True, "full_contrast": False}
    if trial.shown.role in wrong_if_seen and trial.seen == wrong_if_seen[trial.shown.role]:
        return WRONG
    return SEEN if trial.seen else UNSEEN


def _presses(trial: Trial, zero: float) -> list[Press]:
    if trial.answer is None:
        return []
    decided = trial.answer.response_time_s if trial.seen else None
    return [
        Press(trial.shown.onset_s - zero + at, decided is not None and at == decided)
        for at in trial.answer.presses_s
    ]


def _practice(trials: Sequence[Trial], zero: float, window: float) -> Span | None:
    times = [trial.shown.onset_s - zero for trial in trials if trial.shown.practice]
    return Span(times[0], times[-1] + window) if times else None


def _holds(exam: ExamRecord, zero: float, end: float) -> tuple[Span, ...]:
    """Held stretches within the eye's session; one nobody ended lasts to the end of the record."""
    spans, since = [], None
    for entry in exam.entries:
        if isinstance(entry.event, Held):
            since = entry.t_s
        elif isinstance(entry.event, Resumed) and since is not None:
            spans.append(Span(since - zero, entry.t_s - zero))
            since = None
    return tuple(span for span in spans if span.to_s > 0 and span.from_s < end - zero)


def _rest_s(exam: ExamRecord, zero: float, window: float) -> float | None:
    before = [trial.shown.onset_s for trial in exam.trials if trial.shown.onset_s < zero]
    return max(0.0, zero - before[-1] - window) if before else None
