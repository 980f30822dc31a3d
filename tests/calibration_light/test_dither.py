"""Dithering in numbers: the window's own, exactly; its rivals by their published properties."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.dither import (
    CODE_ROWS,
    DITHERS,
    dither_step,
    error_diffusion,
    frame_shift,
    mixed,
    pixel_thresholds,
    random_dither,
    shader_dither,
    shader_frame,
)
from calibration.dither_noise import score_dither, sensitivity, visible_noise
from calibration.geometry import pixel_centres, px_to_cm, screen_of_width
from calibration.transfer import linear, srgb_nominal
from protocols.errors import InputError
from protocols.field import Place
from protocols.grating import Patch, frame_plan, modulation, patch_angles

AREA = "Display"
SOURCE = "Allard & Faubert 2008, Behav Res Methods 40:735"
PATCH = Patch(Place(0.0, 0.0), 2.5, 3.5, 0.5, 90.0, 0.0)
PLAN = frame_plan(0.6, 0.1, 20.0, 60.0)
PIXELS = 100
STEP_DEG = 7.0 / PIXELS
ANGLES = (np.arange(PIXELS) + 0.5) * STEP_DEG - 3.5
SHAPE = modulation(PATCH, ANGLES[None, :], ANGLES[:, None])
WEIGHTS = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1


def scores(name: str, contrast: float, seeds: int = 4):
    return score_dither(
        DITHERS[name], srgb_nominal(), contrast, PLAN, SHAPE, STEP_DEG, range(seeds), WEIGHTS
    )


def test_mix_is_bijective():
    values = np.arange(1 << 20, dtype=np.uint32)
    assert len(np.unique(mixed(values))) == len(values)


def test_thresholds_are_even_from_0_to_1_and_unlike_their_neighbours():
    found = pixel_thresholds(400, 300, 5).astype(float)
    counts = np.histogram(found, np.linspace(0, 1, 33))[0]
    assert np.sum((counts - counts.mean()) ** 2 / counts.mean()) < 60  # chi-square, 31 degrees
    assert abs(np.corrcoef(found[:, 1:].ravel(), found[:, :-1].ravel())[0, 1]) < 0.015
    assert abs(np.corrcoef(found[1:].ravel(), found[:-1].ravel())[0, 1]) < 0.015


@pytest.mark.parametrize("frames_per_cycle", [2, 3, 4, 6, 7])
def test_frames_of_one_phase_cover_the_code_evenly(frames_per_cycle):
    """Golden steps: gaps between any n shifts are of at most three lengths (Steinhaus)."""
    step = dither_step(frames_per_cycle)
    shifts = np.sort([frame_shift(n * frames_per_cycle, step) for n in range(13)])
    gaps = np.diff(np.append(shifts, shifts[0] + 1))
    assert gaps.max() < 2.7 / 13
    assert gaps.min() > 0.4 / 13


@pytest.mark.parametrize("fraction", [0.1, 0.25, 0.5, 0.9])
def test_random_dither_has_the_published_mean_and_variance(truth, fraction):
    """Mean v and variance f(1-f): Allard & Faubert 2008, Behav Res Methods 40:735."""
    transfer = linear()
    wanted = (127 + fraction) / 255
    shape = np.full((200, 200), wanted / transfer.mean_luminance[0] - 1)
    codes = random_dither(np.ones(20), shape, transfer, 3, 1)[..., 0].astype(float)
    share, variance = np.mean(codes) - 127, fraction * (1 - fraction)
    truth(f"random dither of {fraction:g}: mean above the code", share, fraction, 0.003)
    what = f"random dither of {fraction:g}: variance, codes squared"
    truth(what, np.var(codes), variance, 0.01, relative=True)


def test_each_pixel_alone_is_right_over_few_frames_with_the_shader():
    """Ten frames of a constant: the worst pixel is off by far less than with random noise."""
    transfer = linear()
    shape = np.full((60, 60), 127.37 / 127 - 1)
    off = {}
    for name in ("shader", "random"):
        codes = DITHERS[name](np.ones(10), shape, transfer, 2, 3)[..., 0]
        off[name] = np.abs(codes.mean(axis=0) - 127.37)
    print({name: (error.max(), error.mean()) for name, error in off.items()})
    assert off["shader"].mean() < 0.7 * off["random"].mean()
    assert off["shader"].max() < off["random"].max()


def test_error_diffusion_keeps_the_mean_of_a_frame():
    transfer = linear()
    shape = np.full((80, 80), 127.3 / 127 - 1)
    codes = error_diffusion(np.ones(3), shape, transfer, 3, 1)[..., 0].astype(float)
    assert codes.mean(axis=(1, 2)) == pytest.approx(127.3, abs=0.02)


@pytest.mark.parametrize("contrast", [0.002, 0.005, 0.05])
def test_the_shader_is_truer_and_less_visible_than_random_noise(contrast):
    shader, random = scores("shader", contrast, 8), scores("random", contrast, 8)
    print(contrast, shader, random)
    assert shader.contrast_sd < random.contrast_sd
    assert shader.visible_rms < random.visible_rms
    assert abs(shader.contrast_bias) < 0.01


def test_the_shader_is_less_visible_than_error_diffusion_and_true_where_that_is_not():
    """Diffusion moves its noise up to the finest grain, here 7 c/deg, where the eye is keenest."""
    shader, diffusion = scores("shader", 0.005, 3), scores("diffusion", 0.005, 2)
    print(shader, diffusion)
    assert shader.visible_rms < diffusion.visible_rms
    assert abs(diffusion.contrast_bias) > 0.02
    assert abs(shader.contrast_bias) < 0.01


def test_without_dither_half_a_percent_is_nothing():
    assert scores("rounding", 0.005, 1).contrast_bias == pytest.approx(-1.0)


def test_sensitivity_peaks_near_eight_cycles():
    """Mannos & Sakrison 1974: peak near 8 c/deg (from memory), falling on both sides."""
    f = np.linspace(0.1, 40, 4000)
    assert f[np.argmax(sensitivity(f))] == pytest.approx(8.0, abs=0.2)
    assert np.max(sensitivity(f)) == pytest.approx(1.0, abs=1e-3)


def test_visible_noise_of_a_plain_grating_is_its_rms_times_the_sensitivity():
    x = np.arange(64) * 0.05
    still = 0.01 * np.sin(2 * np.pi * 2.5 * x) * np.ones((12, 64, 64))
    expected = 0.01 / np.sqrt(2) * sensitivity(2.5)
    assert visible_noise(still, 0.05, 60.0) == pytest.approx(float(expected), rel=1e-6)


def test_codes_beyond_the_display_are_refused():
    with pytest.raises(InputError, match="luminance: got"):
        random_dither(np.array([1.2]), np.ones((2, 2)), srgb_nominal(), 3, 0)


@pytest.mark.parametrize(("contrast", "seed"), [(0.005, 7), (0.3, 7)])
def test_emulation_is_what_the_real_window_shows(display, contrast, seed):
    """Frames read back from the window, pixel by pixel, against the emulation's codes.

    The graphics driver's sine and arctangent differ from NumPy's in the last bits, which moves a
    code by one where its fraction meets the threshold: one pixel in a thousand at most.
    """
    from stimulus.patch import dither_step as window_step
    from stimulus.patch import patch_box
    from stimulus.window import StimulusWindow

    screen = screen_of_width(1280, 720, 53.0, 35.0)
    patch = Patch(Place(15.0, 8.0), 2.5, 3.5, 0.5, 90.0, 0.0)
    frames = []
    with StimulusWindow(screen, srgb_nominal(), seed=seed) as window:
        plan = frame_plan(0.6, 0.1, 20.0, window.refresh.refresh_hz)
        window.present(patch, contrast, plan, lambda: frames.append(window.read_back()) is None)
    left, bottom, width, height = patch_box(patch, screen)
    x, y = (g[bottom : bottom + height, left : left + width] for g in pixel_centres(screen))
    x_cm, y_cm = px_to_cm(x, y, screen)
    shape = modulation(patch, *patch_angles(patch.place, x_cm, y_cm, screen.distance_cm))
    wanted = shader_dither(contrast * plan.factors, shape, srgb_nominal(), 3, seed)
    rows = slice(screen.height_px - bottom - height, screen.height_px - bottom)
    seen = np.stack([frame[rows, left : left + width][::-1] for frame in frames])
    inside = shape != 0
    differ = np.mean(np.any(seen != wanted, axis=-1)[:, inside])
    print(f"contrast {contrast}: {differ:.2e} of pixels differ")
    assert dither_step(3) == window_step(3)
    assert differ < 1e-3
    assert np.max(np.abs(seen.astype(int) - wanted)[:, inside]) <= 1


def test_a_frame_of_no_contrast_is_mean_grey_exactly():
    table = srgb_nominal().inverse_table(CODE_ROWS)
    thresholds = pixel_thresholds(64, 64, 1)
    drawn = shader_frame(np.ones((64, 64), np.float32), 0.0, thresholds, 0.3, table)
    assert np.all(drawn == srgb_nominal().mean_codes[0])


@pytest.mark.parametrize("contrast", [0.0003, 0.001])
def test_rounding_code_and_table_row_do_not_help_each_other(contrast):
    """One set of bits for both would favour contrast: +3.6 % at 0.03 % was measured so."""
    found = scores("shader", contrast, 24)
    error = found.contrast_sd / np.sqrt(24)
    print(f"contrast {contrast}: bias {found.contrast_bias:+.3%} +- {error:.3%}")
    assert abs(found.contrast_bias) < 3 * error
    assert error < 0.007
