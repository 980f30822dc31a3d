"""What the window really shows, read back from the display, against the NumPy model."""

from __future__ import annotations

import numpy as np
import pytest
from light import (
    Seen,
    model,
    off_the_mark,
    patch_at,
    present_and_read,
    relative_light,
    usual_plan,
)

from protocols.field import Place, polar_place
from protocols.grating import Patch
from stimulus.window import StimulusWindow

LEVELS = [(1.0, 0.01), (0.3, 0.01), (0.1, 0.01), (0.03, 0.01), (0.01, 0.01), (0.005, 0.02)]
PLACES = [
    Place(0.0, 0.0),
    polar_place(9.5, 30.0),
    polar_place(9.5, 270.0),
    polar_place(20.0, 0.0),
    polar_place(20.0, -134.0),
    Place(0.0, 18.0),
]


def demodulated(window: StimulusWindow, patch: Patch, seen: Seen) -> float:
    """Contrast that best explains all frames, by least squares on the model."""
    light = relative_light(seen, window.transfer)
    wanted = usual_plan(window).factors[:, None, None] * model(patch, window.screen, seen)
    wanted = wanted * off_the_mark(window.screen, seen)
    return float(np.sum(light * wanted) / np.sum(wanted**2))


def fitted_shift_px(window: StimulusWindow, patch: Patch, seen: Seen) -> np.ndarray:
    """Offset in pixels (x right, y up) of the patch from where the model has it."""
    factors, visible = usual_plan(window).factors, off_the_mark(window.screen, seen)
    light = np.tensordot(factors, relative_light(seen, window.transfer), 1) / np.sum(factors**2)
    shapes = [model(patch, window.screen, seen)] + [
        model(patch, window.screen, seen, step) - model(patch, window.screen, seen, back)
        for step, back in (((0.5, 0), (-0.5, 0)), ((0, 0.5), (0, -0.5)))
    ]
    design = np.stack([(shape * visible).ravel() for shape in shapes], axis=1)
    found = np.linalg.lstsq(design, (light * visible).ravel(), rcond=None)[0]
    return found[1:] / found[0]


@pytest.mark.parametrize(("contrast", "tolerance"), LEVELS)
def test_delivered_contrast_is_the_nominal_one(window, contrast, tolerance):
    patch = patch_at(polar_place(20.0, 20.0))
    got = demodulated(window, patch, present_and_read(window, patch, contrast))
    print(f"contrast {contrast}: {got:.6f}, error {100 * (got / contrast - 1):+.3f} %")
    assert got == pytest.approx(contrast, rel=tolerance)


def test_contrast_below_half_a_code_step_is_still_true(window):
    patch = patch_at(polar_place(9.5, 150.0))
    got = demodulated(window, patch, present_and_read(window, patch, 0.002))
    assert got == pytest.approx(0.002, rel=0.05)


@pytest.mark.parametrize("place", PLACES, ids=lambda p: f"{p.x_deg:.0f},{p.y_deg:.0f}")
@pytest.mark.parametrize("orientation_deg", [90.0, 0.0])
def test_patch_lies_where_the_field_says(window, place, orientation_deg):
    patch = patch_at(place, orientation_deg)
    shift = fitted_shift_px(window, patch, present_and_read(window, patch, 1.0))
    print(f"{place}: shift {shift.round(4)} px")
    assert np.all(np.abs(shift) < 0.5)


@pytest.mark.parametrize("contrast", [1.0, 0.1, 0.005])
def test_mean_luminance_over_the_patch_is_unchanged(window, contrast):
    patch = patch_at(polar_place(20.0, 160.0))
    light = relative_light(present_and_read(window, patch, contrast), window.transfer)
    print(f"contrast {contrast}: mean luminance {100 * np.mean(light):+.4f} %")
    assert abs(np.mean(light)) < 0.001


@pytest.mark.parametrize("phase_deg", [0.0, 180.0, 90.0])
def test_every_pixel_of_every_frame_is_the_model_within_the_dither(window, phase_deg):
    patch = patch_at(polar_place(9.5, 210.0), 90.0, phase_deg)
    seen = present_and_read(window, patch, 1.0)
    shape = model(patch, window.screen, seen)
    swing = usual_plan(window).factors[:, None, None] * shape
    wanted = window.transfer.to_codes(window.transfer.mean_luminance * (1 + swing[..., None]))
    error = np.where(off_the_mark(window.screen, seen)[..., None], seen.codes - wanted, 0.0)
    print(f"codes off the model: worst {np.max(np.abs(error)):.3f}, mean {np.mean(error):+.5f}")
    assert np.max(np.abs(error)) < 1.6
    assert abs(np.mean(error)) < 0.003


def test_channels_are_alike_on_a_grey_display(window):
    seen = present_and_read(window, patch_at(Place(12.0, 5.0)), 0.3)
    assert np.array_equal(seen.codes[..., 0], seen.codes[..., 1])
    assert np.array_equal(seen.codes[..., 0], seen.codes[..., 2])


def test_first_frame_is_visible(window):
    patch = patch_at(Place(10.0, 0.0))
    seen = present_and_read(window, patch, 1.0)
    shape, first = model(patch, window.screen, seen), usual_plan(window).factors[0]
    light = relative_light(seen, window.transfer)[0]
    assert first > 0
    assert np.sum(light * shape) / np.sum(shape**2) == pytest.approx(first, rel=0.1)


def test_dither_leaves_no_lasting_pattern(window):
    seen = present_and_read(window, patch_at(Place(10.0, 0.0)), 0.005)
    rest = np.mean(relative_light(seen, window.transfer), axis=0)
    assert np.max(np.abs(rest)) < 0.5 * window.transfer.step_contrast(187)
