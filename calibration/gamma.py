"""The gamma part of a certificate from luminance readings, and the table the window draws by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.certificate import FitLine, GammaPart, Quantity, ReadingLine
from calibration.luminance.choose import Chosen
from calibration.luminance.contrast import mean_codes
from calibration.luminance.eye_light import BY_EYE, eye_light
from calibration.luminance.light import MeasuredLight, measured_light
from calibration.readings import COLOURS, Readings, checked_readings
from calibration.transfer import Transfer
from calibration.uncertainty import combined
from protocols.errors import require_within
from protocols.field import Floats

DRAWS = 400
DRAWS_SEED = 20240229
CD_M2 = "cd/m2"


def gamma_part(
    readings: Sequence[ReadingLine], method: str, instrument_relative_uncertainty: float, bits: int
) -> GammaPart:
    """Fit the readings; everything the certificate says of luminance by code.

    `instrument_relative_uncertainty` is the meter's relative standard uncertainty (k = 1): a
    data sheet's limits over root 3, a calibration certificate's expanded one over its factor. It
    scales all luminances alike, so contrast is free of it. `relative_table_u` are standard
    uncertainties. Raises InputError for readings that cannot be fitted.
    """
    require_within(
        "instrument_relative_uncertainty",
        instrument_relative_uncertainty,
        0.0,
        0.5,
        "Give the meter's relative standard uncertainty, such as 0.02.",
    )
    checked = checked_readings(readings, bits, "readings")
    return part_of_light(measured_light(checked), checked, method, instrument_relative_uncertainty)


def part_of_light(
    light: MeasuredLight, readings: Readings, method: str, instrument_relative_uncertainty: float
) -> GammaPart:
    """The certificate's part from fits already made of these readings; see `gamma_part`."""
    return GammaPart(
        method=method,
        bits=readings.bits,
        readings=list(readings.lines),
        fits=[_fit_line(chosen) for chosen in light.channels],
        relative_table=_three(light.relative),
        relative_table_u=_three(light.relative_standard()),
        nonlinearity=_nonlinearity(light),
        **_luminances(light, instrument_relative_uncertainty),
    )


def transfer_of(part: GammaPart) -> Transfer:
    """The table the window draws by; raises InputError for one that does not rise."""
    return Transfer(np.array(part.relative_table), f"measured: {part.method}")


def light_of(part: GammaPart) -> MeasuredLight:
    """The fits behind a gamma part, worked out again from its readings.

    By eye, from the fits themselves: matches have errors of another kind than readings.
    """
    if part.method.startswith(BY_EYE):
        return eye_light(part.fits, Readings(part.bits, tuple(part.readings)))
    return measured_light(checked_readings(part.readings, part.bits, "certificate, gamma"))


def additivity(readings: Readings) -> Quantity | None:
    """How far white is from the sum of the colours, as a share of white; None if it was not read.

    The largest difference over the codes at which white was read: it tells of a display whose
    channels do not add up (a white subpixel, a dimming backlight). Blacks are counted once.
    """
    white = readings.channel("white")
    if not readings.coloured or not len(white.share):
        return None
    light = measured_light(readings)
    levels = np.unique(white.share)
    found = [_sum_difference(light, readings, float(level)) for level in levels if level > 0]
    value, standard = max(found, key=lambda pair: abs(pair[0]))
    return Quantity(value=value, type_a=standard, type_b=0.0, unit="share of white")


def _sum_difference(light: MeasuredLight, readings: Readings, share: float) -> tuple[float, float]:
    white = readings.channel("white")
    read = white.cd_m2[white.share == share]
    mean = float(np.mean(read))
    curves = [chosen.curve for chosen in light.channels]
    rises = [float(np.diff(curve.cd_m2([0.0, share]))[0]) for curve in curves]
    noise = [float(curve.noise.standard(mean)) for curve in curves]
    spread = max(noise) / np.sqrt(len(read))
    parts = [float(curve.standard_cd_m2([share])[0]) for curve in curves]
    return (mean - sum(rises) - light.black_cd_m2) / mean, combined([spread, *parts]) / mean


def _luminances(light: MeasuredLight, instrument: float) -> dict[str, Quantity]:
    codes = mean_codes(light)
    top = [light.screen_cd_m2.shape[1] - 1] * len(codes)
    found = {
        "peak_cd_m2": (light.grey_cd_m2(top), light.grey_gradient(top)),
        "mean_cd_m2": (light.grey_cd_m2(codes), light.grey_gradient(codes)),
        "black_cd_m2": (light.black_cd_m2, light.black_gradient()),
    }
    return {
        name: Quantity(
            value=value, type_a=light.standard(gradient), type_b=value * instrument, unit=CD_M2
        )
        for name, (value, gradient) in found.items()
    }


def _nonlinearity(light: MeasuredLight) -> Quantity:
    """Largest departure from a straight line of the light after correction, share of maximum.

    From invented truths that the readings allow (GUM Supplement 1, JCGM 101:2008): mean and
    standard deviation over the truths of the largest departure of any channel.
    """
    truths = light.sampled(DRAWS, np.random.default_rng(DRAWS_SEED))
    largest = departures(light.relative, truths)
    return Quantity(
        value=float(np.mean(largest)),
        type_a=float(np.std(largest, ddof=1)),
        type_b=0.0,
        unit="share of maximum",
    )


def departures(corrected_by: Floats, truth_cd_m2: Floats) -> Floats:
    """Largest departure from the line between the ends of truths corrected by a table.

    `corrected_by` is a relative table (k, 256), `truth_cd_m2` true light (..., k, 256); returns
    shares of the maximum, shape (...).
    """
    wanted = (corrected_by - corrected_by[:, :1]) / (1 - corrected_by[:, :1])
    rise = truth_cd_m2 - truth_cd_m2[..., :1]
    return np.asarray(np.max(np.abs(rise / rise[..., -1:] - wanted), axis=(-2, -1)))


def _fit_line(chosen: Chosen) -> FitLine:
    names, curve = chosen.curve.shape.parameter_names, chosen.curve
    errors = np.sqrt(np.diag(curve.covariance))
    return FitLine(
        channel=chosen.channel.name,
        chosen=curve.shape.name,
        parameters=dict(zip(names, curve.parameters.tolist(), strict=True)),
        standard_errors=dict(zip(names, errors.tolist(), strict=True)),
        cross_validation_rms=chosen.cross_validation_rms,
        residual_rms_relative=chosen.residual_rms_relative,
    )


def _three(rows: Floats) -> list[list[float]]:
    """Rows of three channels; white alone stands for all three."""
    whole = rows if len(rows) == len(COLOURS) else np.tile(rows, (len(COLOURS), 1))
    return [[float(v) for v in row] for row in whole]
