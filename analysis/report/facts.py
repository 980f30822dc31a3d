"""Everything else a reader must know, as short texts: who, when, how, on what, how safe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analysis.figures.timeline import clock_text
from analysis.figures.words import NO_NUMBER, one_decimal
from analysis.report.exam import Shown
from analysis.result import EyeResult, Light, Result

PROCEDURES = {
    "rising": "rising: unseen targets come back with more contrast, the last at full contrast",
    "staircase": "staircase: contrast falls after seen targets and rises after unseen ones",
    "bayes": "bayes: each level follows from what all answers so far make likely",
    "quest-plus": "quest-plus: each level follows from what all answers so far make likely",
    "joint": "joint: one belief about the whole field, so that neighbours inform each place",
    "decision": "decision: shown near the limit until within or below it is likely enough",
}


@dataclass(frozen=True)
class Fact:
    """A term and what is to be said of it."""

    term: str
    text: str


@dataclass(frozen=True)
class Group:
    """Facts under one heading."""

    title: str
    facts: tuple[Fact, ...]


def date_text(utc: str) -> str:
    """A moment in words.

    >>> date_text("2030-01-15T09:00:00.000000Z")
    '15 January 2030, 09:00 UTC'
    """
    moment = datetime.fromisoformat(utc.replace("Z", "+00:00"))
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}, {moment:%H:%M} UTC"


_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def head_facts(shown: Shown) -> tuple[Fact, ...]:
    """Who, when, how long, which eyes."""
    exam = shown.result.exam
    names = [eye for eye, _ in shown.eyes]
    return (
        Fact("Age", f"{exam.age_years} years"),
        Fact("Eyes" if len(names) > 1 else "Eye", " and ".join(names)),
        Fact("Date", date_text(exam.opened_utc)),
        Fact("Length", f"{clock_text(exam.seconds)} min:s"),
        Fact("Protocol", exam.protocol),
    )


def warnings(result: Result) -> tuple[str, ...]:
    """What must be seen before any number is read."""
    exam, found = result.exam, []
    if result.reference.synthetic:
        found.append(result.reference.notice)
    elif result.reference.people < 1:
        found.append("Reference without people: no one was measured for it.")
    if not result.display.calibrated:
        found.append("Uncalibrated display: the light shown was not measured.")
    if exam.simulated:
        found.append("Simulated participant: no person took part.")
    found += result.corrections
    if not exam.finished:
        found.append(f"Not finished: {exam.reason.rstrip('.')}.")
    return tuple(found)


def eye_facts(eye: EyeResult) -> str:
    """One line of summary numbers of an eye."""
    parts = []
    mean, ends = eye.summary.mean_below_limit_db, eye.summary.mean_below_limit_interval_db
    if mean is not None and ends is not None:
        low, high = (one_decimal(end) for end in ends)
        parts.append(f"Mean depth below the limit {one_decimal(mean)} dB (95 %: {low} to {high})")
    if eye.indices is not None:
        low, high = (one_decimal(end) for end in eye.indices.mean_deviation.interval_db)
        value = one_decimal(eye.indices.mean_deviation.value_db)
        parts.append(f"mean deviation {value} dB ({low} to {high})")
        parts.append(f"whole field: {eye.indices.whole_field.words}")
    times = eye.response_times
    if times.median_s is not None and times.quartiles_s is not None:
        low, high = (f"{end:.2f}" for end in times.quartiles_s)
        parts.append(f"response time {times.median_s:.2f} s (middle half {low} to {high})")
    if eye.seconds is not None:
        parts.append(f"{eye.presentations} presentations in {clock_text(eye.seconds)} min:s")
    text = "; ".join(parts)
    return f"{text}. {eye.trust.words}" if eye.trust is not None and eye.trust.words else text


def groups(shown: Shown) -> tuple[Group, ...]:
    """All further facts, in the order they are printed."""
    result = shown.result
    return (
        Group("How it was tested", _method(result)),
        Group("Display and timing", (*_display(result.display), *_timing(result))),
        Group("Flicker and safety", _safety(result)),
        Group("Reference", _reference(result)),
        Group("Record", _record(result)),
    )


def _method(result: Result) -> tuple[Fact, ...]:
    exam = result.exam
    resolution = f"{1000 * exam.button_resolution_s:.3g} ms"
    told = " ".join(dict.fromkeys(result.advice)) or "nothing"
    return (
        Fact("Protocol", f"{exam.protocol} ({exam.protocol_sha256[:12]})"),
        Fact("Procedure", PROCEDURES.get(exam.procedure, exam.procedure)),
        Fact("Button", f"{exam.button}, resolution {resolution}"),
        Fact("Said to the operator", told),
        Fact("Unit", result.unit_note),
    )


def _display(light: Light) -> tuple[Fact, ...]:
    mean = light.mean_luminance_cd_m2
    luminance = "mean not measured" if mean is None else f"mean {mean:.4g} cd/m²"
    proof = light.certificate_sha256
    state = f"calibrated, certificate {proof[:12]}" if proof else "uncalibrated display"
    return (
        Fact("Display", f"{state if light.calibrated else 'uncalibrated display'}; {light.words}"),
        Fact("Size", f"{light.width_cm:.4g} × {light.height_cm:.4g} cm, "
                     f"{light.width_px} × {light.height_px} px, at {light.distance_cm:.4g} cm"),
        Fact("Luminance", f"{luminance}; transfer {light.transfer}"),
        Fact("Full contrast", f"{one_decimal(light.full_contrast_delivered_db)} dB delivered "
                              f"(hold {light.frame_hold:.3f}, panel {light.panel_response:.3f})"),
    )  # fmt: skip


def _timing(result: Result) -> tuple[Fact, ...]:
    timing = result.timing
    locked = "flips locked to the display" if timing.display_locked else "flips not locked"
    return (
        Fact("Refresh", f"{timing.refresh_hz:.4g} Hz, {locked}"),
        Fact("Frames", f"{timing.frames_shown} shown of {timing.frames_wanted} wanted, "
                       f"{timing.frames_late} late; {timing.spoiled} of {timing.presentations} "
                       "presentations spoiled"),
    )  # fmt: skip


def _safety(result: Result) -> tuple[Fact, ...]:
    safety, light, total = result.safety, result.display, result.timing.presentations
    return (
        Fact("Flicker", f"{light.flicker_hz:.4g} Hz shown, {light.flicker_wanted_hz:.4g} Hz asked"),
        Fact("Question on photosensitivity", f"confirmed by {safety.confirmed_by or NO_NUMBER}"),
        Fact("Largest patch", f"{safety.largest_area_sr:.4f} sr; largest swing "
                              f"{safety.largest_swing_relative:.2f} of full luminance"),
        Fact("Above flash guidance", f"{safety.over_wcag} of {total} presentations (WCAG 2.3.1); "
                                     f"{_bt1702(result)}"),
        Fact("Override", safety.override_reason or "none"),
    )  # fmt: skip


def _bt1702(result: Result) -> str:
    if result.safety.over_bt1702 is None:
        return "ITU-R BT.1702 not judged, for want of a measured luminance"
    return f"{result.safety.over_bt1702} (ITU-R BT.1702)"


def _reference(result: Result) -> tuple[Fact, ...]:
    reference = result.reference
    kind = "synthetic, " if reference.synthetic else ""
    return (
        Fact("Reference", f"{reference.name} ({kind}{reference.people} people measured)"),
        Fact("SHA-256", reference.sha256[:12]),
        Fact("Limit", "the level that 99 % of people of this age see"),
    )


def _record(result: Result) -> tuple[Fact, ...]:
    exam = result.exam
    versions = ", ".join(f"{name} {version}" for name, version in result.versions.items())
    return (
        Fact("Journal SHA-256", f"{result.journal_sha256} ({result.journal_lines} lines)"),
        Fact("Seed", str(exam.seed)),
        Fact("Command", exam.command),
        Fact("Versions", versions),
    )
