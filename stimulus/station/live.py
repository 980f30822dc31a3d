"""Where a running exam stands, as the page is told it: plain data made from the journal alone."""

from __future__ import annotations

from math import log10

import msgspec

from analysis.figures.disc import disc_radius
from analysis.figures.field import FULL_RADIUS_DEG
from analysis.figures.ramp import depth_colour, is_dark
from protocols.exam import ExamState, practice_open
from protocols.field import Eye, temporal_sign
from protocols.messages import Wait
from protocols.plan import ExamPlan
from protocols.procedures.interface import Z_95
from protocols.progress import EyeProgress
from protocols.verdict import CONCERNS, standing_of, upper_bound
from stimulus.station.follow import Followed
from stimulus.station.forecast import Left, pace_s

SMALLEST_RADIUS_DEG = 0.9
EARLY_S = 0.02
FLOOR_DB = 0.05
"""Nominal level up to which an estimate says "not seen at full contrast"."""
CONCERN_WORDS = {
    "gaze": "Eye on the mark",
    "presses": "Presses only when seen",
    "attention": "Strong targets noticed",
}


class PlaceView(msgspec.Struct, frozen=True):
    """A place of the field: estimate and half of its 95 % interval in delivered contrast dB."""

    number: int
    x_deg: float
    y_deg: float
    radius_deg: float
    state: str
    colour: str
    dark: bool
    estimate_db: float | None
    give_or_take_db: float | None
    tries: int
    unseen: bool


class EyeView(msgspec.Struct, frozen=True):
    """How far an eye is."""

    eye: Eye
    status: str
    done: int
    total: int
    presentations: int


class LastView(msgspec.Struct, frozen=True):
    """What was just shown, and what came of it so far."""

    index: int
    eye: Eye
    role: str
    practice: bool
    x_deg: float
    y_deg: float
    level_db: float | None
    pressed: bool
    verdict: str
    words: str


class StripView(msgspec.Struct, frozen=True):
    """One way of answering badly: how near its test is to a decision (0 to 1), in words too."""

    name: str
    title: str
    share: float
    decided: int
    words: str


class LiveView(msgspec.Struct, frozen=True):
    """Everything the live page shows. Times in seconds."""

    exam: str
    lines: int
    code: str
    phase: str
    running: bool
    sentence: str
    eye: str
    temporal: int
    eyes: list[EyeView]
    places: list[PlaceView]
    blind_spot: tuple[float, float] | None
    practice: str
    may_repeat: bool
    may_waive: bool
    last: LastView | None
    strip: list[StripView]
    standing: str
    advice: str
    advice_head: str
    advice_kind: str
    advice_line: int
    elapsed_s: float
    left_s: tuple[float, float, float] | None
    left_futures: int
    frames_shown: int
    frames_late: int
    spoiled: int
    presentations: int
    presses: int = 0
    trouble: str = ""


def live_view(
    exam: str,
    found: Followed,
    running: bool,
    left: Left | None,
    presses: int = 0,
    trouble: str = "",
) -> LiveView | None:
    """The view of what was followed; None before the record's first line.

    `presses` counts those told by the exam itself, ahead of its journal.
    """
    plan, state, opened = found.plan, found.state, found.opened
    if plan is None or state is None or opened is None:
        return None
    eye = state.eye
    phase = state.phase if running or state.phase in ("finished", "stopped") else "cut off"
    return LiveView(
        exam=exam,
        lines=found.lines,
        code=opened.participant,
        phase=phase,
        running=running,
        sentence=_sentence(found, state, phase),
        eye=eye.eye,
        temporal=temporal_sign(eye.eye),
        eyes=[_eye_view(plan, state, number) for number in range(len(state.eyes))],
        places=_places(found, plan, eye),
        blind_spot=_blind_spot(plan, eye.eye),
        practice=_practice(plan, state),
        may_repeat=_practice_waits(state),
        may_waive=practice_open(plan, state),
        last=_last(found, plan),
        strip=_strip(eye),
        standing=eye.evidence.standing,
        advice="" if found.advice is None else found.advice.text.removeprefix("Say: "),
        advice_head=_advice_head(found),
        advice_kind="" if found.advice is None else found.advice.kind,
        advice_line=found.advice_line,
        elapsed_s=max(0.0, found.last_s - found.began_s),
        left_s=None if left is None else left.seconds(pace_s(plan, found.steps_s)),
        left_futures=0 if left is None else left.futures,
        frames_shown=found.frames_shown,
        frames_late=found.frames_late,
        spoiled=found.spoiled,
        presentations=found.presentations,
        presses=presses,
        trouble=trouble,
    )


def _sentence(found: Followed, state: ExamState, phase: str) -> str:
    eye = state.eye.eye
    words = {
        "ready": f"Waiting for the participant's press to begin the {eye} eye.",
        "practising": f"Practice, {eye} eye: the answers do not count.",
        "testing": f"Testing the {eye} eye.",
        "resting": f"Rest. The {eye} eye comes next.",
        "held": f"On hold: {state.hold_reason.rstrip('.')}.",
        "finished": "Finished: that was all.",
        "stopped": "Stopped.",
        "cut off": "The exam's program has ended without closing the record. It can go on.",
    }
    if _practice_waits(state) and phase == "practising":
        return "The practice was not passed: explain the task, then practise again, or waive it."
    if phase == "stopped" and found.closed is not None:
        return f"Stopped: {found.closed.reason.rstrip('.')}."
    return words[phase]


def _advice_head(found: Followed) -> str:
    return "Say now" if found.advice and found.advice.text.startswith("Say: ") else "Do now"


def _eye_view(plan: ExamPlan, state: ExamState, number: int) -> EyeView:
    eye = state.eyes[number]
    finished = plan.procedure.finished(eye.procedure)
    if eye.skipped:
        status = "skipped"
    elif number < state.eye_number or state.phase == "finished":
        status = "done"
    else:
        status = "now" if number == state.eye_number else "to come"
    return EyeView(eye.eye, status, int(finished.sum()), finished.shape[-1], eye.presentations)


def _practice(plan: ExamPlan, state: ExamState) -> str:
    rules, done = plan.protocol.settings.practice, state.practice
    if plan.skip_practice:
        return "Practice waived."
    if done.waived_by is not None:
        return f"Practice waived by {done.waived_by}." if done.waived_by else "Practice waived."
    if done.passed is not None:
        return "Practice passed." if done.passed else "Practice not passed."
    extra = f" of {rules.rounds}" if done.round <= rules.rounds else ""
    round_words = f", round {done.round}{extra}" if max(rules.rounds, done.round) > 1 else ""
    return (
        f"Practice: {done.seen} seen of {done.shown} shown{round_words}; "
        f"{rules.needed} of {rules.presentations} needed."
    )


def _practice_waits(state: ExamState) -> bool:
    """Whether the exam waits for somebody to repeat the practice or waive it."""
    return isinstance(state.action, Wait) and state.action.what == "practice"


def _blind_spot(plan: ExamPlan, eye: Eye) -> tuple[float, float]:
    spot = plan.blind_spot(eye)
    return spot.x_deg, spot.y_deg


def _places(found: Followed, plan: ExamPlan, eye: EyeProgress) -> list[PlaceView]:
    mean_db, sd_db, finished = (part[0] for part in plan.procedure.estimate(eye.procedure))
    limits_db = plan.limits(eye.eye)[0]
    loss_db = 0.0 if found.display is None else -20 * log10(found.display.delivery)
    views = []
    for number, place in enumerate(plan.places(eye.eye)):
        tries = found.tries[eye.eye, number]
        state = "done" if finished[number] else ("begun" if tries else "to do")
        below_db = float(limits_db[number] - mean_db[number])
        colour = depth_colour(max(0.0, below_db))
        half_db = Z_95 * float(sd_db[number])
        radius = max(SMALLEST_RADIUS_DEG, disc_radius(max(2 * half_db, 0.1), FULL_RADIUS_DEG))
        views.append(
            PlaceView(
                number=number,
                x_deg=round(place.x_deg, 3),
                y_deg=round(place.y_deg, 3),
                radius_deg=round(radius if tries else SMALLEST_RADIUS_DEG, 3),
                state=state,
                colour=hex_of(colour),
                dark=is_dark(colour),
                estimate_db=round(float(mean_db[number]) + loss_db, 1) if tries else None,
                give_or_take_db=round(half_db, 1) if tries else None,
                tries=tries,
                unseen=bool(finished[number]) and float(mean_db[number]) < FLOOR_DB,
            )
        )
    return views


def hex_of(colour: tuple[float, float, float]) -> str:
    """A colour of parts 0 to 1 as a page writes it."""
    return "#" + "".join(f"{round(255 * min(max(part, 0.0), 1.0)):02x}" for part in colour)


_ROLE_WORDS = {
    "place": "a place",
    "blind_spot": "the blind spot (check of the gaze)",
    "blank": "nothing (check of presses)",
    "full_contrast": "full contrast (check of attention)",
}
_VERDICT_WORDS = {
    "seen": "pressed: seen",
    "not_seen": "no press",
    "anticipation": "pressed too early, does not count",
    "late": "pressed too late, taken as not seen",
    "spoiled": "does not count, the display was late",
}


def _last(found: Followed, plan: ExamPlan) -> LastView | None:
    shown, answer = found.shown, found.answer
    if shown is None:
        return None
    until_s = shown.onset_s + plan.protocol.settings.answering.accept_until_s + plan.latency_s
    pressed = found.shown_line_s < until_s - EARLY_S
    verdict = "" if answer is None else ("spoiled" if answer.spoiled else answer.verdict)
    outcome = _VERDICT_WORDS.get(verdict, "pressed" if pressed else "no press yet")
    if verdict == "seen" and answer is not None and answer.response_time_s is not None:
        outcome += f" after {answer.response_time_s:.2f} s"
    what = _ROLE_WORDS[shown.role]
    level_db = None if shown.contrast_delivered <= 0 else -20 * log10(shown.contrast_delivered)
    if shown.role == "place":
        what = f"place {shown.place_number} at {level_db:.0f} dB"
    return LastView(
        index=shown.index,
        eye=shown.eye,
        role=shown.role,
        practice=shown.practice,
        x_deg=round(shown.x_deg, 3),
        y_deg=round(shown.y_deg, 3),
        level_db=None if level_db is None else round(level_db, 1),
        pressed=pressed or bool(answer and answer.presses_s),
        verdict=verdict,
        words=f"{'Practice: ' if shown.practice else ''}{what}, {outcome}.",
    )


def _strip(eye: EyeProgress) -> list[StripView]:
    views = []
    wrong = dict(zip(CONCERNS, (eye.catch_wrong[0], eye.false_presses, eye.catch_wrong[2]),
                     strict=True))  # fmt: skip
    shown = dict(zip(CONCERNS, eye.catch_shown, strict=True))
    for concern, ratio, decided in zip(
        CONCERNS, eye.evidence.ratios, eye.evidence.decided, strict=True
    ):
        share = min(1.0, ratio / upper_bound()) if decided == 0 else 1.0
        verdict = standing_of(decided)
        counted = f"{wrong[concern]} of {shown[concern]} wrong"
        if concern == "presses":
            counted = f"presses at nothing in {eye.evidence.uncaused} of {eye.evidence.shown}"
        views.append(
            StripView(concern, CONCERN_WORDS[concern], round(share, 3), decided,
                      f"{verdict}; {counted}")
        )  # fmt: skip
    return views
