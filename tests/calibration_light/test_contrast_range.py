"""The range of contrasts a certificate supports, against the dither itself and by refusals."""

from __future__ import annotations

import re

import numpy as np
import pytest
from displays import readings_of

from calibration.contrast_range import (
    PatchLight,
    dither_standard,
    lowest_contrast,
    range_part,
    refuse_contrast,
)
from calibration.dither import random_dither, shader_dither
from calibration.dither_noise import delivered_contrast, luminance_swing
from calibration.gamma import gamma_part
from calibration.simulated import DisplayFile, SimulatedDisplay
from calibration.transfer import srgb_nominal
from protocols.errors import InputError
from protocols.field import Place
from protocols.grating import Patch, frame_plan, modulation

PLAN = frame_plan(0.6, 0.1, 20.0, 60.0)
PIXELS = 100
LIGHT = PatchLight(PIXELS, 2.5, 3.5, PLAN.factors)
GREY = np.array([0.2126, 0.7152, 0.0722])
ANGLES = (np.arange(PIXELS) + 0.5) * 7.0 / PIXELS - 3.5
SHAPE = modulation(
    Patch(Place(0, 0), 2.5, 3.5, 0.5, 90.0, 0.0), ANGLES[None, :], ANGLES[:, None]
)


def measured(seed: int = 3, **changes):
    display = SimulatedDisplay(DisplayFile(about="for the range", **changes))
    return gamma_part(readings_of(display, np.random.default_rng(seed)), "m", 0.02, 8)


@pytest.fixture(scope="module")
def found():
    return range_part(measured(), LIGHT)


def drawn_errors(dither, contrast: float, seeds: int) -> np.ndarray:
    errors = []
    for seed in range(seeds):
        codes = dither(contrast * PLAN.factors, SHAPE, srgb_nominal(), 3, seed)
        swing = luminance_swing(codes, srgb_nominal(), GREY)
        errors.append(delivered_contrast(swing, PLAN.factors, SHAPE) / contrast - 1)
    return np.array(errors)


@pytest.mark.parametrize("contrast", [0.0005, 0.005, 0.05])
def test_formula_of_random_dither_is_what_random_dither_does(contrast):
    scatter = np.std(drawn_errors(random_dither, contrast, 24))
    stated = dither_standard(srgb_nominal(), LIGHT, GREY, contrast)
    print(f"contrast {contrast}: drawn {scatter:.5f}, formula {stated:.5f}")
    assert scatter == pytest.approx(stated, rel=0.45)  # SD of 24: +-15 %, three times


def test_lowest_contrast_is_true_with_the_windows_own_dither():
    lowest = lowest_contrast(srgb_nominal(), LIGHT, GREY, 0.0)
    errors = drawn_errors(shader_dither, lowest, 24)
    print(f"lowest {lowest:.6f}: errors mean {errors.mean():+.3%}, SD {errors.std():.3%}")
    assert np.mean(np.abs(errors) <= 0.05) >= 0.9
    assert abs(errors.mean()) < 0.02


def test_half_a_percent_is_within_range(found):
    print(found)
    assert found.lowest_contrast < 0.005
    assert set(found.lowest_by_channel) == {"red", "green", "blue"}
    assert found.tolerance == 0.05


def test_smaller_patches_and_shorter_times_need_more_contrast(found):
    few = range_part(measured(), PatchLight(30, 2.5, 3.5, PLAN.factors))
    short = range_part(measured(), PatchLight(PIXELS, 2.5, 3.5, PLAN.factors[12:18]))
    assert few.lowest_contrast > 2 * found.lowest_contrast
    assert short.lowest_contrast > found.lowest_contrast


def test_an_uncertain_curve_needs_more_contrast():
    sure, unsure = (lowest_contrast(srgb_nominal(), LIGHT, GREY, u) for u in (0.0, 0.024))
    assert unsure > 5 * sure


def test_greatest_contrast_is_that_of_black_bars():
    """Light from black to twice the mean: C = 1 - black/mean; black and mean of the display."""
    bright = measured(black_cd_m2=[2.0, 6.0, 1.0])
    truth = 1 - 9.0 / bright.mean_cd_m2.value
    assert range_part(bright, LIGHT).greatest_contrast == pytest.approx(truth, abs=0.003)


@pytest.mark.parametrize("asked", [0.0001, 0.9999, 1.0])
def test_a_contrast_outside_the_range_is_refused_with_the_number(found, asked):
    with pytest.raises(InputError) as caught:
        refuse_contrast(found, asked, "protocol faint.toml, lowest contrast")
    text = str(caught.value)
    print(text)
    assert text.startswith(f"protocol faint.toml, lowest contrast: got {asked:g}; allowed: 0.000")
    low, high = (float(v) for v in re.search(r"allowed: ([\d.]+) to ([\d.]+),", text).groups())
    refuse_contrast(found, low, "the number it names")
    refuse_contrast(found, high, "the number it names")


def test_a_contrast_inside_the_range_passes(found):
    refuse_contrast(found, 0.005, "protocol, lowest contrast")


def test_a_curve_too_uncertain_for_any_contrast_is_refused():
    message = r'uncertainty of the contrast: got "5\.2 %"; allowed: up to 5 % \(k = 2\)'
    with pytest.raises(InputError, match=message):
        lowest_contrast(srgb_nominal(), LIGHT, GREY, 0.026)


def test_a_patch_of_no_size_is_refused():
    with pytest.raises(InputError, match="pixels_across: got 1; allowed: 4 to 5000"):
        PatchLight(1, 2.5, 3.5, PLAN.factors)
