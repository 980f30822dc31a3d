"""Typed events: what each kind of journal line holds. Unknown keys are welcome, these stay."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from protocols.answers import Verdict
from protocols.field import Eye
from protocols.files import schema_head
from protocols.presentation import Role


class ReferenceFacts(msgspec.Struct, frozen=True):
    """Which reference the first levels and the grades come from."""

    name: str
    sha256: str
    people: int
    synthetic: bool
    notice: str


class ButtonFacts(msgspec.Struct, frozen=True):
    """The button, how finely it can time a press, in seconds, and how that was measured."""

    name: str
    resolution_s: float
    measured: str = ""


class Opened(msgspec.Struct, frozen=True):
    """First line: everything needed to run the exam again.

    `practice_required` says that practice had to be passed or waived, `language` in which language
    the window spoke to the participant; records of before that lack both.
    """

    format: int
    notice: str
    participant: str
    age_years: int
    eyes: list[Eye]
    protocol: str
    protocol_sha256: str
    seed: int
    skip_practice: bool
    start: str
    delivery: float
    limits_db: dict[str, list[float]]
    reference_limits_db: dict[str, list[float]]
    reference: ReferenceFacts
    button: ButtonFacts
    simulated: bool
    versions: dict[str, str]
    command: str
    latency_s: float = 0.0
    practice_required: bool = False
    language: str = "en"


class Display(msgspec.Struct, frozen=True):
    """What the screen is, as far as it is known; requested and obtained side by side.

    Nominal contrast 1 is shown as `greatest_contrast`, the most that the display's black allows.
    """

    calibrated: bool
    words: str
    simulated: bool
    width_px: int
    height_px: int
    width_cm: float
    height_cm: float
    distance_cm: float
    fixation_x_cm: float
    fixation_y_cm: float
    refresh_hz: float
    refresh_sd_s: float | None
    display_locked: bool
    flicker_wanted_hz: float
    flicker_hz: float
    frames_per_cycle: int
    frame_hold: float
    panel_response: float
    mean_relative_luminance: float
    mean_luminance_cd_m2: float | None
    transfer: str
    full_screen: bool = False
    greatest_contrast: float = 1.0
    screen_number: int = 0
    certificate_sha256: str | None = None

    @property
    def delivery(self) -> float:
        """Delivered contrast as a share of nominal."""
        return self.greatest_contrast * self.frame_hold * self.panel_response


class Caution(msgspec.Struct, frozen=True):
    """The photosensitivity question, who confirmed the answer, and the protocol's override."""

    question: str
    confirmed_by: str
    over_wcag_at_full_contrast: bool
    over_bt1702_at_full_contrast: bool | None
    override_reason: str


class EyeLine(msgspec.Struct, frozen=True):
    """An eye begins, or what is left of it is skipped."""

    eye: Eye
    skipped: bool = False


PracticeOutcome = Literal["passed", "not_passed", "repeated", "waived"]


class PracticeLine(msgspec.Struct, frozen=True):
    """What came of the practice: a round's outcome, one more round, or a waiver.

    `by` are the initials of whoever waived or repeated it.
    """

    eye: Eye
    outcome: PracticeOutcome
    by: str = ""
    shown: int = 0
    seen: int = 0
    round: int = 1


class Presented(msgspec.Struct, frozen=True, kw_only=True):
    """One presentation as it was shown. Levels in contrast dB, None for a blank."""

    index: int
    eye: Eye
    role: Role
    practice: bool
    place_number: int | None
    x_deg: float
    y_deg: float
    phase_deg: float
    level_db: float | None
    contrast_nominal: float
    contrast_delivered: float
    onset_s: float
    frames_wanted: int
    frames_shown: int
    frames_late: int
    spoiled: bool
    flicker_hz: float
    area_sr: float
    swing_relative: float
    swing_cd_m2: float | None
    over_wcag: bool
    over_bt1702: bool | None


class AnsweredLine(msgspec.Struct, frozen=True, kw_only=True):
    """The answer: verdict, the press that decided it, and every press up to the next onset.

    `press_s` is on the journal's clock; `response_time_s` and `presses_s` count from onset, as
    stamped. `corrected_response_time_s` is less the known delay of display and button; the
    verdict is by corrected times.
    """

    index: int
    verdict: Verdict
    press_s: float | None
    response_time_s: float | None
    presses_s: list[float]
    spoiled: bool
    corrected_response_time_s: float | None = None


class Advised(msgspec.Struct, frozen=True):
    """What the operator was told to say."""

    kind: str
    text: str


class Held(msgspec.Struct, frozen=True):
    """The exam pauses."""

    reason: str
    abandoned_index: int | None = None


class Resumed(msgspec.Struct, frozen=True):
    """The exam goes on; after a crash with what was set aside and where the clock starts anew."""

    after: str
    set_aside: str | None = None


SWAPPED, AS_ENTERED = "left and right swapped", "as entered"
"""What a correction says of the eyes of an exam of both."""


class Corrected(msgspec.Struct, frozen=True):
    """A wrong entry put right in the open."""

    what: str
    was: str
    now: str
    by: str


class Closed(msgspec.Struct, frozen=True):
    """The exam ended; `reason` is "finished" or says why it was stopped."""

    reason: str
    phase: str


KINDS: dict[str, type] = {
    "opened": Opened,
    "display": Display,
    "caution": Caution,
    "eye": EyeLine,
    "practice": PracticeLine,
    "presented": Presented,
    "answered": AnsweredLine,
    "advised": Advised,
    "held": Held,
    "resumed": Resumed,
    "corrected": Corrected,
    "closed": Closed,
}

Event = (
    Opened
    | Display
    | Caution
    | EyeLine
    | PracticeLine
    | Presented
    | AnsweredLine
    | Advised
    | Held
    | Resumed
    | Corrected
    | Closed
)

_KIND_OF = {kind: name for name, kind in KINDS.items()}


def kind_of(event: Event) -> str:
    """The name of an event's kind as it stands in the journal."""
    return _KIND_OF[type(event)]


def journal_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of one journal line, generated from the types."""
    schemas, components = msgspec.json.schema_components(
        list(KINDS.values()), ref_template="#/$defs/{name}"
    )
    lines = [
        {"properties": {"kind": {"const": kind}, "data": schema}}
        for kind, schema in zip(KINDS, schemas, strict=True)
    ]
    return {
        **schema_head("Ripplefield journal line, format 1"),
        "type": "object",
        "required": ["n", "t_s", "utc", "kind", "data", "prev"],
        "properties": {
            "n": {"type": "integer", "minimum": 0},
            "t_s": {"type": "number"},
            "utc": {"type": "string", "format": "date-time"},
            "kind": {"enum": list(KINDS)},
            "prev": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
        },
        "oneOf": lines,
        "$defs": components,
    }
