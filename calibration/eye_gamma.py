"""The gamma part of a certificate from half-tone matches by eye, without a meter.

A match knows nothing of light at code 0, of the channels' peaks or of cd/m2. What stands in the
certificate for them is entered or assumed, each with its uncertainty of type B:

- full white is the luminance entered;
- black is 0.1 % of it, and not above twice that: a contrast of the panel of 500:1 or better (common
  practice, no published source); it is the black of the whole screen;
- the channels share white as those of sRGB do (IEC 61966-2-1): their shares decide no contrast.

The curve of a channel is a power of the code; the uncertainty of its exponent is that of the
settings, widened where a power does not fit them (`calibration.instruments.eye_estimate`). The
fits' parameters and standard errors in the certificate say all of it, so the light is worked out
again from them alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from calibration.certificate import FitLine, GammaPart, ReadingLine
from calibration.gamma import part_of_light
from calibration.instruments.eye_estimate import EyeEstimate
from calibration.luminance.eye_light import BY_EYE, eye_light
from calibration.readings import COLOURS, Readings
from protocols.errors import InputError, require_within

METHOD = f"{BY_EYE}, half-tone matching; cd/m2 from an entered peak"
PEAK_RELATIVE_UNCERTAINTY = 0.1
"""Standard uncertainty of a peak from a data sheet (own estimate)."""

BLACK_SHARE = 0.001
WHITE_SHARES = {"red": 0.2126, "green": 0.7152, "blue": 0.0722}


def eye_gamma_part(
    found: Sequence[EyeEstimate],
    peak_cd_m2: float,
    peak_relative_uncertainty: float = PEAK_RELATIVE_UNCERTAINTY,
    bits: int = 8,
) -> GammaPart:
    """Everything the certificate says of luminance by code, from estimates of the three channels.

    Raises InputError for a channel that is missing or a peak out of range.
    """
    require_within("peak_cd_m2", peak_cd_m2, 1.0, 1e5, "Give full white in cd/m2.")
    names = [one.channel for one in found]
    if sorted(names) != sorted(COLOURS):
        raise InputError(
            "channels matched by eye", ", ".join(names), "red, green, blue", "Match each once."
        )
    ordered = sorted(found, key=lambda one: COLOURS.index(one.channel))
    lines = [line for one in ordered for line in _points(one, peak_cd_m2)]
    readings = Readings(bits, tuple(lines))
    fits = [_fit_line(one, peak_cd_m2) for one in ordered]
    return part_of_light(eye_light(fits, readings), readings, METHOD, peak_relative_uncertainty)


def _points(one: EyeEstimate, peak_cd_m2: float) -> list[ReadingLine]:
    """The matched codes with the light that they are taken to give, black included."""
    black, rise = BLACK_SHARE * peak_cd_m2, WHITE_SHARES[one.channel] * peak_cd_m2
    return [
        ReadingLine(channel=one.channel, code=p.code, cd_m2=black + p.relative * rise)
        for p in one.points
    ]


def _fit_line(one: EyeEstimate, peak_cd_m2: float) -> FitLine:
    """A power of the code over black.

    Black lies evenly between 0 and twice its share: a standard uncertainty of black over root 3.
    It is the mean of what three channels say of it, so each says it with root 3 times that.
    """
    black, rise = BLACK_SHARE * peak_cd_m2, WHITE_SHARES[one.channel] * peak_cd_m2
    return FitLine(
        channel=one.channel,
        chosen="power",
        parameters={
            "black_cd_m2": black,
            "peak_cd_m2": black + rise,
            "offset": 0.0,
            "gamma": one.gamma.value,
        },
        standard_errors={
            "black_cd_m2": black,
            "peak_cd_m2": 0.0,
            "offset": 0.0,
            "gamma": one.gamma.standard,
        },
        cross_validation_rms={},
        residual_rms_relative=0.0,
    )
