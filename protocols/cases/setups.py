"""What can be wrong in the room, and what it does to what the eye meets. Physics, with its sources.

- wrong distance: a target drawn at d*tan(r) for a distance d stands at the angle whose tangent is
  d*tan(r)/d' (plain trigonometry). Its size changes too. Sensitivity goes with the fourth root of
  area and falls `FREQUENCY_DB_PER_OCTAVE` an octave of spatial frequency; both are assumptions.
- other eye uncovered: the better of the two eyes answers, and the fellow eye sees what falls on the
  tested eye's blind spot.
- room too bright: light on a diffusely reflecting screen adds the luminance E*rho/pi (Lambert's
  law) to all of it, so contrast falls by L0 / (L0 + added).
- uncalibrated screen: luminance goes with a power of the code that nobody corrected, so that
  contrast C comes out as the Michelson contrast of ((1 + C)/2)^g and ((1 - C)/2)^g.
- tilted head: the field turns about the mark, less the counter-roll of the eyes, taken as a tenth
  of the tilt (textbook order of magnitude, from memory).
"""

from __future__ import annotations

from math import atan2, cos, log2, log10, pi, radians, sin, sqrt, tan
from typing import Annotated

import msgspec

from protocols.field import Eye, Place, other_eye, project_cm, unproject_deg

MEANT_DISTANCE_CM = 35.0
"""Distance that every case is drawn for."""
MEAN_LUMINANCE_CD_M2 = 60.0
"""Mean luminance of the invented screen."""
SCREEN_REFLECTANCE = 0.04
"""Share of room light a screen gives back, spread evenly; common practice, no published source."""
USUAL_ROOM_LUX = 5.0
"""Light on the screen of a darkened room: it takes less than 0.01 dB."""
AREA_EXPONENT = 0.25
FREQUENCY_DB_PER_OCTAVE = 1.5
COUNTER_ROLL = 0.1


class NoFault(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="fault", tag="none"
):
    """The set-up is as it should be."""


class WrongDistance(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="fault", tag="wrong_distance"
):
    """The eye is not where the screen was drawn for."""

    true_distance_cm: Annotated[float, msgspec.Meta(ge=15.0, le=150.0)]


class OtherEyeOpen(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="fault", tag="other_eye_open"
):
    """The eye that is not tested sees as well."""


class BrightRoom(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="fault", tag="bright_room"
):
    """Daylight or lamps on the screen."""

    illuminance_lux: Annotated[float, msgspec.Meta(ge=50.0, le=100_000.0)]


class UncalibratedScreen(
    msgspec.Struct,
    frozen=True,
    forbid_unknown_fields=True,
    tag_field="fault",
    tag="uncalibrated_screen",
):
    """Luminance goes with this power of what was asked for: above 1 steeper, below 1 flatter."""

    exponent: Annotated[float, msgspec.Meta(ge=0.2, le=4.0)]


class TiltedHead(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="fault", tag="tilted_head"
):
    """The head leans: positive towards the right shoulder."""

    tilt_deg: Annotated[float, msgspec.Meta(ge=-60.0, le=60.0)]


SetUp = NoFault | WrongDistance | OtherEyeOpen | BrightRoom | UncalibratedScreen | TiltedHead
FAULTS: tuple[type, ...] = (
    NoFault, WrongDistance, OtherEyeOpen, BrightRoom, UncalibratedScreen, TiltedHead,
)  # fmt: skip


def fault_of(set_up: SetUp) -> str:
    """The fault's name as a case writes it.

    >>> fault_of(OtherEyeOpen())
    'other_eye_open'
    """
    return str(type(set_up).__struct_config__.tag)


def met_place(set_up: SetUp, place: Place) -> Place:
    """Where in the field a target meant for `place` stands in truth, degrees.

    >>> round(met_place(WrongDistance(70.0), Place(20.0, 0.0)).x_deg, 2)
    10.31
    """
    if isinstance(set_up, WrongDistance):
        x_cm, y_cm = project_cm(place.x_deg, place.y_deg, MEANT_DISTANCE_CM)
        x_deg, y_deg = unproject_deg(x_cm, y_cm, set_up.true_distance_cm)
        return Place(float(x_deg), float(y_deg))
    if isinstance(set_up, TiltedHead):
        return _turned(place, (1 - COUNTER_ROLL) * set_up.tilt_deg)
    return place


def met_contrast(set_up: SetUp, contrast: float) -> float:
    """Contrast on the screen where `contrast` was asked for, 0..1 both.

    >>> round(met_contrast(UncalibratedScreen(2.2), 0.05), 3)
    0.11
    """
    if isinstance(set_up, BrightRoom):
        return contrast * contrast_left(set_up.illuminance_lux)
    if isinstance(set_up, UncalibratedScreen):
        high, low = (((1 + sign * contrast) / 2) ** set_up.exponent for sign in (1, -1))
        return float((high - low) / (high + low))
    return contrast


def contrast_left(illuminance_lux: float) -> float:
    """Share of contrast left under room light, by Lambert's law.

    >>> round(contrast_left(0.0), 3), round(contrast_left(4712.0), 3)
    (1.0, 0.5)
    """
    added = illuminance_lux * SCREEN_REFLECTANCE / pi
    return MEAN_LUMINANCE_CD_M2 / (MEAN_LUMINANCE_CD_M2 + added)


def size_gain_db(set_up: SetUp, place: Place) -> float:
    """What the changed size of the target and its bars adds to sensitivity, dB."""
    if not isinstance(set_up, WrongDistance):
        return 0.0
    larger = _magnification(place.eccentricity_deg, MEANT_DISTANCE_CM / set_up.true_distance_cm)
    return 40 * AREA_EXPONENT * log10(larger) + FREQUENCY_DB_PER_OCTAVE * log2(larger)


def seeing_eyes(set_up: SetUp, tested: Eye) -> tuple[Eye, ...]:
    """The eyes that see the screen, the tested one first."""
    if not isinstance(set_up, OtherEyeOpen):
        return (tested,)
    return (tested, other_eye(tested))


def _magnification(eccentricity_deg: float, nearer: float) -> float:
    """How much larger a small target gets: geometric mean of radial and tangential growth."""
    if eccentricity_deg == 0:
        return nearer
    r = radians(eccentricity_deg)
    tangent = tan(r)
    radial = nearer * (1 + tangent**2) / (1 + (nearer * tangent) ** 2)
    tangential = sin(atan2(nearer * tangent, 1.0)) / sin(r)
    return sqrt(radial * tangential)


def _turned(place: Place, turn_deg: float) -> Place:
    """The world turns against the head: counter-clockwise for a tilt to the right shoulder."""
    angle = radians(turn_deg)
    return Place(
        place.x_deg * cos(angle) - place.y_deg * sin(angle),
        place.x_deg * sin(angle) + place.y_deg * cos(angle),
    )


THINGS = ("distance", "cover", "room", "screen", "head")
"""What an operator can look at and put right."""
THING_OF = {
    "wrong_distance": "distance",
    "other_eye_open": "cover",
    "bright_room": "room",
    "uncalibrated_screen": "screen",
    "tilted_head": "head",
}


def room_note(set_up: SetUp, thing: str) -> str:
    """What someone who looks at one thing of the room finds: a measurement, no judgement."""
    if thing == "distance":
        found = MEANT_DISTANCE_CM
        if isinstance(set_up, WrongDistance):
            found = set_up.true_distance_cm
        return f"eye to mark {found:.0f} cm; the screen is drawn for {MEANT_DISTANCE_CM:.0f} cm"
    if thing == "cover":
        loose = isinstance(set_up, OtherEyeOpen)
        return "the patch lies beside the eye" if loose else "the patch covers the other eye"
    if thing == "room":
        lux = set_up.illuminance_lux if isinstance(set_up, BrightRoom) else USUAL_ROOM_LUX
        mean = f"its mean luminance is {MEAN_LUMINANCE_CD_M2:.0f} cd/m²"
        return f"{lux:.0f} lux on the screen; {mean}"
    if thing == "screen":
        g = set_up.exponent if isinstance(set_up, UncalibratedScreen) else 1.0
        return f"luminance goes with the power {g:.2f} of what the program asks for"
    lean = set_up.tilt_deg if isinstance(set_up, TiltedHead) else 0.0
    side = "" if lean == 0 else f" towards the {'right' if lean > 0 else 'left'} shoulder"
    return f"the head leans {abs(lean):.0f} degrees{side}"
