"""The result of an exam as data: what `result.json` holds. Its JSON Schema comes from the types."""

from __future__ import annotations

from typing import Any

import msgspec

from analysis.indices.facts import Index, Indices
from analysis.verdict.facts import Trust
from protocols.events import ReferenceFacts
from protocols.files import schema_of


class Rate(msgspec.Struct, frozen=True):
    """A count of catch trials with the share that was wrong and its 95 % interval."""

    shown: int
    wrong: int
    rate: float | None
    interval: tuple[float, float]


class Reliability(msgspec.Struct, frozen=True):
    """The three rates, and presses outside the answer window."""

    fixation: Rate
    false_positive: Rate
    false_negative: Rate
    anticipations: int
    late_answers: int
    extra_presses: int


class PlaceAnswer(msgspec.Struct, frozen=True):
    """One try: level in delivered contrast dB, seen or not, response time in seconds."""

    index: int
    role: str
    level_db: float
    seen: bool
    response_time_s: float | None


class PlaceResult(msgspec.Struct, frozen=True):
    """One place. Levels in delivered contrast dB; `bound` says which way the estimate is open.

    `deviation` is from the reference mean, `pattern_deviation` from that and the field's general
    level. `evidence` is that against health (`analysis.multiplicity`), `stands` whether it stands
    among all places of the field; all four are None where the place was not tested to the end.
    """

    number: int
    x_deg: float
    y_deg: float
    grade: int | None
    grade_probability: float | None
    grade_trusted: bool
    grade_probabilities: list[float]
    estimate_db: float | None
    interval_db: tuple[float, float]
    bound: str
    limit_db: float
    reference_mean_db: float
    below_limit_db: float | None
    tries: int
    seen: bool
    answers: list[PlaceAnswer]
    deviation: Index | None = None
    pattern_deviation: Index | None = None
    evidence: float | None = None
    stands: bool | None = None


class Summary(msgspec.Struct, frozen=True):
    """Counts over the places of an eye."""

    places: int
    graded: int
    by_grade: list[int]
    within_limit: int
    mean_below_limit_db: float | None
    mean_below_limit_interval_db: tuple[float, float] | None


class ResponseTimes(msgspec.Struct, frozen=True):
    """Response times of seen targets, in seconds."""

    count: int
    median_s: float | None
    quartiles_s: tuple[float, float] | None


class EyeResult(msgspec.Struct, frozen=True):
    """One eye."""

    status: str
    sentence: str
    places: list[PlaceResult]
    summary: Summary
    reliability: Reliability
    response_times: ResponseTimes
    presentations: int
    seconds: float | None
    indices: Indices | None = None
    trust: Trust | None = None
    next_step: str = ""


class Timing(msgspec.Struct, frozen=True):
    """Frames requested and obtained."""

    display_locked: bool
    refresh_hz: float
    presentations: int
    spoiled: int
    frames_wanted: int
    frames_shown: int
    frames_late: int


class Light(msgspec.Struct, frozen=True):
    """What the display is known to show."""

    calibrated: bool
    words: str
    flicker_wanted_hz: float
    flicker_hz: float
    frame_hold: float
    panel_response: float
    full_contrast_delivered_db: float
    mean_luminance_cd_m2: float | None
    transfer: str
    distance_cm: float
    width_cm: float
    height_cm: float
    width_px: int
    height_px: int
    certificate_sha256: str | None


class SafetyFacts(msgspec.Struct, frozen=True):
    """Caution asked and flash guidance.

    `over_bt1702` is None where some light could not be judged: its luminance was not measured.
    """

    confirmed_by: str
    override_reason: str
    over_wcag: int
    over_bt1702: int | None
    largest_area_sr: float
    largest_swing_relative: float


class ExamFacts(msgspec.Struct, frozen=True):
    """Who, when, how."""

    participant: str
    age_years: int
    opened_utc: str
    ended_utc: str
    seconds: float
    protocol: str
    protocol_sha256: str
    procedure: str
    seed: int
    finished: bool
    reason: str
    simulated: bool
    button: str
    button_resolution_s: float
    command: str


class Result(msgspec.Struct, frozen=True):
    """result.json, format 1."""

    format: int
    notice: str
    unit_note: str
    exam: ExamFacts
    eyes: dict[str, EyeResult]
    reference: ReferenceFacts
    display: Light
    timing: Timing
    safety: SafetyFacts
    advice: list[str]
    versions: dict[str, str]
    journal_sha256: str
    journal_lines: int
    corrections: list[str] = []


UNIT_NOTE = (
    "dB is contrast dB, 20*log10(1/C) of the delivered Michelson contrast; it is not the "
    "attenuation dB of luminance-increment perimetry."
)


def result_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of result.json, generated from the types."""
    return schema_of(Result, "Ripplefield result, format 1")


def result_bytes(result: Result) -> bytes:
    """The file's content: indented JSON, the same bytes for the same result."""
    return msgspec.json.format(msgspec.json.encode(result), indent=2) + b"\n"
