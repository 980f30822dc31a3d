"""The protocol: everything that decides how an exam is run, as pure data.

Lengths are degrees of visual angle, times seconds, levels contrast dB; the unit ends each key.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec.structs import replace

from protocols.files import convert, cross_check_error, schema_of, toml_data
from protocols.procedures.plugged import plugged_settings
from protocols.procedures.settings import ProcedureSettings

Name = Annotated[str, msgspec.Meta(min_length=1)]
Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]
Count = Annotated[int, msgspec.Meta(ge=0, le=50)]
Phase = Annotated[float, msgspec.Meta(ge=0.0, lt=360.0)]
Radius = Annotated[float, msgspec.Meta(gt=0.0, le=20.0)]


class Stimulus(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The flickering patch."""

    spatial_frequency_cpd: Annotated[float, msgspec.Meta(ge=0.1, le=4.0)] = 0.5
    full_radius_deg: Radius = 2.5
    outer_radius_deg: Radius = 3.5
    orientation_deg: Annotated[float, msgspec.Meta(ge=0.0, lt=180.0)] = 90.0
    phases_deg: Annotated[tuple[Phase, ...], msgspec.Meta(min_length=1)] = (0.0, 180.0)
    flicker_hz: Annotated[float, msgspec.Meta(ge=5.0, le=60.0)] = 20.0
    duration_s: Annotated[float, msgspec.Meta(ge=0.05, le=2.0)] = 0.6
    ramp_s: Annotated[float, msgspec.Meta(ge=0.0, le=0.5)] = 0.1

    def __post_init__(self) -> None:
        if self.outer_radius_deg <= self.full_radius_deg:
            raise cross_check_error(
                "outer_radius_deg",
                self.outer_radius_deg,
                f"above full_radius_deg, {self.full_radius_deg:g}",
                "Leave room for a soft edge.",
            )
        if 2 * self.ramp_s > self.duration_s:
            raise cross_check_error(
                "ramp_s",
                self.ramp_s,
                f"up to half of duration_s, {self.duration_s / 2:g}",
                "Shorten the ramps or lengthen the presentation.",
            )


class Answering(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The window after onset in which a press counts."""

    accept_from_s: Annotated[float, msgspec.Meta(ge=0.05, le=0.5)] = 0.1
    accept_until_s: Annotated[float, msgspec.Meta(ge=0.3, le=5.0)] = 1.0

    def __post_init__(self) -> None:
        if self.accept_until_s <= self.accept_from_s:
            raise cross_check_error(
                "accept_until_s",
                self.accept_until_s,
                f"above accept_from_s, {self.accept_from_s:g}",
                "Give people time to answer.",
            )


class Foreperiod(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Quiet time before an onset: a non-aging draw between two bounds."""

    min_s: Annotated[float, msgspec.Meta(ge=0.1, le=5.0)] = 0.3
    max_s: Annotated[float, msgspec.Meta(ge=0.1, le=10.0)] = 0.8
    decay_s: Annotated[float, msgspec.Meta(ge=0.01, le=10.0)] = 0.2
    lead_in_s: Annotated[float, msgspec.Meta(ge=0.0, le=10.0)] = 1.0

    def __post_init__(self) -> None:
        if self.max_s <= self.min_s:
            raise cross_check_error(
                "max_s",
                self.max_s,
                f"above min_s, {self.min_s:g}",
                "A constant foreperiod teaches a rhythm.",
            )


class CatchTrials(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Least number of each kind of catch trial an eye gets.

    `blind_spot_early` of the blind-spot checks come as soon as they may, so that a wandering gaze
    is noticed before half the exam.
    """

    blind_spot: Count = 3
    blank: Count = 3
    full_contrast: Count = 3
    none_in_first: Annotated[int, msgspec.Meta(ge=1, le=20)] = 3
    blind_spot_early: Count = 0

    def __post_init__(self) -> None:
        if self.blind_spot_early > self.blind_spot:
            raise cross_check_error(
                "blind_spot_early",
                self.blind_spot_early,
                f"up to blind_spot, {self.blind_spot}",
                "Ask for more blind-spot checks or for fewer early ones.",
            )


class BlindSpot(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where the fixation target is shown, for the right eye."""

    x_deg: Annotated[float, msgspec.Meta(ge=10.0, le=20.0)] = 15.5
    y_deg: Annotated[float, msgspec.Meta(ge=-5.0, le=3.0)] = -1.5
    target_diameter_deg: Annotated[float, msgspec.Meta(ge=0.5, le=4.0)] = 1.5


class Practice(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Full-contrast presentations before the first eye, with the number to be seen."""

    presentations: Annotated[int, msgspec.Meta(ge=1, le=20)] = 4
    needed: Annotated[int, msgspec.Meta(ge=1, le=20)] = 3
    rounds: Annotated[int, msgspec.Meta(ge=1, le=5)] = 2

    def __post_init__(self) -> None:
        if self.needed > self.presentations:
            raise cross_check_error(
                "needed",
                self.needed,
                f"up to presentations, {self.presentations}",
                "Ask for fewer answers.",
            )


class Eyes(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Order of the eyes and the rest between them."""

    first: Literal["right", "left"] = "right"
    rest_s: Annotated[float, msgspec.Meta(ge=0.0, le=600.0)] = 20.0


class StopRules(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """When running on makes no sense."""

    presentations_per_eye: Annotated[int, msgspec.Meta(ge=5, le=2000)] = 150
    spoiled_share: Share = 0.25
    spoiled_least: Annotated[int, msgspec.Meta(ge=1, le=200)] = 6


class Frames(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """When a presentation is spoiled by the display and shown again."""

    late_allowed: Annotated[int, msgspec.Meta(ge=0, le=1000)] = 0


class Safety(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An explicit override of the flash guidance, with its reason in words."""

    override_reason: str = ""


class ProtocolFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A protocol file, format 1."""

    format: Literal[1]
    name: Name
    about: Name
    pattern: Name
    stimulus: Stimulus = Stimulus()
    answering: Answering = Answering()
    foreperiod: Foreperiod = Foreperiod()
    procedure: ProcedureSettings
    catch_trials: CatchTrials = CatchTrials()
    blind_spot: BlindSpot = BlindSpot()
    practice: Practice = Practice()
    eyes: Eyes = Eyes()
    stop: StopRules = StopRules()
    frames: Frames = Frames()
    safety: Safety = Safety()

    def __post_init__(self) -> None:
        if self.stimulus.duration_s > self.answering.accept_until_s:
            raise cross_check_error(
                "stimulus.duration_s",
                self.stimulus.duration_s,
                f"up to answering.accept_until_s, {self.answering.accept_until_s:g}",
                "Shorten the presentation or lengthen the answer window.",
            )


def decode_protocol(text: str, source: str) -> ProtocolFile:
    """A protocol file's settings; `source` names the file in errors. Raises InputError.

    A `procedure` table that a plug-in brings is decoded by the plug-in's own strict type.
    """
    data = toml_data(text, source, "protocol")
    plugged = plugged_settings(data, source)
    if plugged is None:
        return convert(ProtocolFile, data, source)
    rest = convert(ProtocolFile, data | {"procedure": {"kind": "rising"}}, source)
    return replace(rest, procedure=plugged)


def protocol_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of protocol files, generated from the types."""
    return schema_of(ProtocolFile, "Ripplefield protocol, format 1")
