"""The contrasts a measured display shows truly: from the smallest within 5 % to the greatest.

Two things make a small contrast untrue. The curve's slope at mean grey is known only so well: the
same share at every contrast. Dithering shows one code step or none: a share that grows as the
contrast falls. For the second, random thresholds are assumed, which show a fraction f of a step
with variance f(1 - f) (Allard & Faubert 2008); the window's own dither is steadier. The greatest
contrast is that whose dark bars are black.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.certificate import COVERAGE_FACTOR, GammaPart, RangePart
from calibration.dither import SHADER_DITHER
from calibration.gamma import light_of, transfer_of
from calibration.luminance.contrast import channel_contrast_standard, contrast_standard
from calibration.luminance.light import MeasuredLight
from calibration.readings import COLOURS
from calibration.transfer import CODE_STEPS, Transfer
from protocols.errors import InputError, require_within
from protocols.field import Floats
from protocols.grating import envelope

TOLERANCE = 0.05
CONTRASTS = np.geomspace(1e-5, 1.0, 201)
SMALL_CONTRAST = 0.005
RADII, PHASES = 12, 32


@dataclass(frozen=True)
class PatchLight:
    """What of a patch is averaged: pixels across it, its radii, the factor of each frame."""

    pixels_across: float
    full_radius_deg: float
    outer_radius_deg: float
    factors: Floats

    def __post_init__(self) -> None:
        require_within("pixels_across", self.pixels_across, 4, 5000, "Give the patch's size in px.")

    @property
    def pixels(self) -> float:
        """Pixels inside the outline."""
        return float(np.pi / 4 * self.pixels_across**2)


def range_part(part: GammaPart, patch: PatchLight) -> RangePart:
    """The contrasts this display supports for this patch.

    Raises InputError if the readings leave the slope at mean grey too uncertain for any.
    """
    light, transfer = light_of(part), transfer_of(part)
    slope = contrast_standard(light, SMALL_CONTRAST)
    own = _by_channel(light)
    weights = _weights(light)
    lowest = {name: lowest_contrast(transfer, patch, _only(c), own[c]) for c, name in _named()}
    return RangePart(
        lowest_contrast=lowest_contrast(transfer, patch, weights, slope),
        greatest_contrast=transfer.greatest_contrast,
        lowest_by_channel=lowest,
        tolerance=TOLERANCE,
        dither=SHADER_DITHER,
        contrast_relative_u=slope,
    )


def refuse_contrast(found: RangePart, contrast: float, what: str) -> None:
    """Raise InputError, with the number, for a contrast outside the supported range."""
    if found.lowest_contrast <= contrast <= found.greatest_contrast:
        return
    low = contrast < found.lowest_contrast
    todo = (
        f"Below this the light is not within {100 * found.tolerance:g} %: ask for at least "
        f"{_up(found.lowest_contrast)}, or measure the display with more readings."
        if low
        else f"The screen's black is too bright: ask for at most {_down(found.greatest_contrast)}."
    )
    allowed = (
        f"{_up(found.lowest_contrast)} to {_down(found.greatest_contrast)}, "
        "as this display's certificate has it"
    )
    raise InputError(what, contrast, allowed, todo)


def lowest_contrast(
    transfer: Transfer, patch: PatchLight, weights: Floats, slope_standard: float
) -> float:
    """Smallest contrast within the tolerance at coverage factor 2, and so is every greater one.

    `weights` (3,) are the shares of the channels in the light; `slope_standard` is the relative
    standard uncertainty of the contrast from the curve. Raises InputError if there is none.
    """
    within = _within_reach(transfer)
    noise = [dither_standard(transfer, patch, weights, float(c)) for c in within]
    errors = np.hypot(slope_standard, noise)
    wrong = np.flatnonzero(COVERAGE_FACTOR * errors > TOLERANCE)
    first = int(wrong[-1]) + 1 if wrong.size else 0
    if first == len(errors):
        raise InputError(
            "uncertainty of the contrast",
            f"{100 * COVERAGE_FACTOR * float(errors[-1]):.1f} %",
            f"up to {100 * TOLERANCE:g} % (k = 2)",
            "Measure the luminance again, with more readings or a better meter.",
        )
    return float(within[first])


def dither_standard(
    transfer: Transfer, patch: PatchLight, weights: Floats, contrast: float
) -> float:
    """Relative standard deviation of the fitted contrast from random thresholds.

    The least-squares contrast of one presentation weights each pixel of each frame by its
    modulation m: variance sum(m^2 var) / sum(m^2)^2. The channels share their thresholds, so
    their steps add up.
    """
    modulation, share = patch_modulation(patch)
    factors = patch.factors
    swing = factors[:, None] * modulation
    variance = _step_variance(transfer, weights, contrast * swing)
    pixels = share * patch.pixels
    power = np.sum(pixels * swing**2)
    return float(np.sqrt(np.sum(pixels * swing**2 * variance)) / power / contrast)


def patch_modulation(patch: PatchLight) -> tuple[Floats, Floats]:
    """Modulations that a patch holds and the share of its pixels that has each; shape (n,).

    Phases of the carrier are taken as evenly spread at every radius.
    """
    radius = np.sqrt((np.arange(RADII) + 0.5) / RADII)
    edge = patch.full_radius_deg / patch.outer_radius_deg
    carrier = np.sin(2 * np.pi * (np.arange(PHASES) + 0.5) / PHASES)
    modulation = (envelope(radius, edge, 1.0)[:, None] * carrier).ravel()
    return modulation, np.full(modulation.shape, 1 / modulation.size)


def _step_variance(transfer: Transfer, weights: Floats, swing: Floats) -> Floats:
    """Variance of light over mean grey, of any shape, when thresholds are random.

    One threshold serves all channels: the standard deviations add, which is the most it can be.
    """
    spread = np.zeros(swing.shape)
    for weight, table, mean in zip(
        weights, transfer.luminance, transfer.mean_luminance, strict=True
    ):
        codes = np.interp(mean * (1 + swing), table, CODE_STEPS)
        whole = np.minimum(np.floor(codes).astype(int), len(table) - 2)
        fraction = codes - whole
        step = (table[whole + 1] - table[whole]) / mean
        spread += weight * step * np.sqrt(fraction * (1 - fraction))
    return np.asarray(spread**2)


def _within_reach(transfer: Transfer) -> Floats:
    count = int(np.searchsorted(CONTRASTS, transfer.greatest_contrast, "right"))
    return CONTRASTS[:count]


def _named() -> list[tuple[int, str]]:
    return list(enumerate(COLOURS))


def _only(channel: int) -> Floats:
    return np.asarray(np.eye(len(COLOURS))[channel], float)


def _weights(light: MeasuredLight) -> Floats:
    peaks = light.own_cd_m2[:, -1]
    whole = peaks if len(peaks) == len(COLOURS) else np.ones(len(COLOURS))
    return np.asarray(whole / np.sum(whole))


def _by_channel(light: MeasuredLight) -> list[float]:
    count = len(light.channels)
    found = [channel_contrast_standard(light, c, SMALL_CONTRAST) for c in range(count)]
    return found if count == len(COLOURS) else found * len(COLOURS)


def _up(contrast: float) -> str:
    return f"{np.ceil(contrast * 1e5) / 1e5:.5f}"


def _down(contrast: float) -> str:
    return f"{np.floor(contrast * 1e4) / 1e4:.4f}"
