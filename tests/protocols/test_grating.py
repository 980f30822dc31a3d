"""The grating as numbers: whole-frame flicker, centred phases, soft edges, true angles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from protocols.errors import InputError
from protocols.field import Place, polar_place, project_cm
from protocols.grating import (
    Patch,
    envelope,
    frame_hold,
    frame_plan,
    modulation,
    patch_angles,
    patch_frame,
    temporal_window,
    whole_frame_flicker,
)

SCREENS = [(60.0, 3, 20.0), (75.0, 4, 18.75), (120.0, 6, 20.0), (144.0, 7, 144 / 7)]
places = st.builds(polar_place, st.floats(0.0, 60.0), st.floats(-180.0, 180.0))


@pytest.mark.parametrize(("refresh_hz", "frames", "rate_hz"), SCREENS)
def test_a_cycle_is_a_whole_number_of_frames(refresh_hz, frames, rate_hz):
    assert whole_frame_flicker(20.0, refresh_hz) == (frames, rate_hz)
    assert round(rate_hz, 2) in (20.0, 18.75, 20.57)


@given(st.floats(5.0, 60.0), st.floats(60.0, 360.0))
def test_no_other_whole_number_of_frames_comes_nearer(wanted_hz, refresh_hz):
    if wanted_hz > refresh_hz / 2:
        with pytest.raises(InputError):
            whole_frame_flicker(wanted_hz, refresh_hz)
        return
    _, found_hz = whole_frame_flicker(wanted_hz, refresh_hz)
    rates = refresh_hz / np.arange(2, 200)
    assert abs(found_hz - wanted_hz) <= np.min(np.abs(rates - wanted_hz)) + 1e-12


def test_a_flicker_too_fast_for_the_screen_is_refused():
    with pytest.raises(InputError, match="allowed: up to half the refresh rate, 30 Hz here"):
        whole_frame_flicker(31.0, 60.0)


@pytest.mark.parametrize(("refresh_hz", "frames", "rate_hz"), SCREENS)
def test_the_sampled_fundamental_has_the_wanted_amplitude(refresh_hz, frames, rate_hz):
    """Fourier component at the flicker rate over whole cycles of full contrast: exactly 1."""
    factors = frame_plan(0.6, 0.0, 20.0, refresh_hz).factors
    whole = factors[: len(factors) // frames * frames]
    turn = np.exp(-2j * np.pi * rate_hz / refresh_hz * np.arange(len(whole)))
    amplitude = 2 * abs(np.mean(whole * turn)) if frames > 2 else abs(np.mean(whole * turn))
    assert amplitude == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("refresh_hz", "frames", "rate_hz"), SCREENS)
def test_the_flicker_starts_at_its_peak_and_reaches_it_every_cycle(refresh_hz, frames, rate_hz):
    """Started at zero, three frames a cycle would peak at 0.866 and begin with an unseen frame."""
    factors = frame_plan(0.6, 0.0, 20.0, refresh_hz).factors
    assert np.all(factors[::frames] == 1.0)
    assert np.max(np.abs(factors)) == 1.0


@pytest.mark.parametrize(("refresh_hz", "frames", "rate_hz"), SCREENS)
def test_the_first_frame_is_not_blank(refresh_hz, frames, rate_hz):
    """Onset is the flip of the first frame whose contrast is not zero."""
    assert frame_plan(0.6, 0.1, 20.0, refresh_hz).factors[0] > 0


@pytest.mark.parametrize(("refresh_hz", "frames", "rate_hz"), SCREENS)
def test_a_presentation_lasts_what_was_asked_to_half_a_frame(refresh_hz, frames, rate_hz):
    plan = frame_plan(0.6, 0.1, 20.0, refresh_hz)
    assert abs(plan.frames / refresh_hz - 0.6) <= 0.5 / refresh_hz
    assert (plan.frames_per_cycle, plan.flicker_hz) == (frames, rate_hz)


def test_ramps_rise_and_fall_as_raised_cosines():
    assert temporal_window([-0.01, 0.0, 0.05, 0.1, 0.3, 0.55, 0.6, 0.61], 0.6, 0.1) == (
        pytest.approx([0, 0, 0.5, 1, 1, 0.5, 0, 0])
    )


def test_no_ramp_is_a_plain_switch():
    assert list(temporal_window([-0.01, 0.0, 0.6, 0.61], 0.6, 0.0)) == [0, 1, 1, 0]


@given(st.floats(0.1, 30.0), st.floats(60.0, 360.0))
def test_frame_hold_adds_no_contrast_above_two_frames_a_cycle(frequency_hz, refresh_hz):
    assume(refresh_hz / frequency_hz > 2.001)
    assert 0 < frame_hold(frequency_hz, refresh_hz) <= 1


def test_two_frames_a_cycle_are_a_square_wave():
    """Its fundamental is 4/pi of the amplitude; here by direct Fourier analysis of the frames."""
    phase = 2 * np.pi * (np.arange(2000) + 0.5) / 2000
    square = np.where(phase < np.pi, 1.0, -1.0)
    fundamental = 2 * abs(np.mean(square * np.exp(-1j * phase)))
    assert frame_hold(30.0, 60.0) == pytest.approx(fundamental, rel=1e-5)


@given(st.floats(0.0, 10.0))
def test_the_envelope_is_full_inside_soft_at_the_edge_and_nothing_outside(radius_deg):
    value = float(envelope(radius_deg, 2.5, 3.5))
    if radius_deg <= 2.5:
        assert value == 1.0
    elif radius_deg >= 3.5:
        assert value == pytest.approx(0.0, abs=1e-12)
    else:
        assert value == pytest.approx(np.cos(np.pi / 2 * (radius_deg - 2.5)) ** 2, abs=1e-12)


@given(places)
def test_the_patch_frame_is_a_rotation_that_ends_at_the_place(place):
    frame = patch_frame(place)
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0, abs=1e-12)
    x_cm, y_cm = project_cm(place.x_deg, place.y_deg, 1.0)
    assert np.cross(frame[2], [x_cm, y_cm, 1.0]) == pytest.approx(np.zeros(3), abs=1e-9)


@given(places)
def test_the_centre_of_a_patch_is_no_angle_from_itself(place):
    x_cm, y_cm = project_cm(place.x_deg, place.y_deg, 35.0)
    across, up = patch_angles(place, x_cm, y_cm, 35.0)
    assert abs(across) < 1e-6
    assert abs(up) < 1e-6


@given(places, st.floats(-17.0, 17.0))
def test_a_patch_is_as_wide_along_the_radius_as_at_the_centre(place, step_deg):
    """Along the radius visual angles add: a step of s degrees is s degrees from the centre."""
    moved = polar_place(place.eccentricity_deg + abs(step_deg), place.polar_deg)
    x_cm, y_cm = project_cm(moved.x_deg, moved.y_deg, 35.0)
    assert np.hypot(*patch_angles(place, x_cm, y_cm, 35.0)) == pytest.approx(
        abs(step_deg), abs=1e-6
    )


def test_vertical_bars_vary_across_and_horizontal_ones_upwards():
    upright, flat = (Patch(Place(0, 0), 2.5, 3.5, 0.5, tilt, 0.0) for tilt in (90.0, 0.0))
    assert modulation(upright, 0.5, [0.0, 1.0]) == pytest.approx([1.0, 1.0])
    assert modulation(flat, [0.0, 1.0], -0.5) == pytest.approx([1.0, 1.0])


def test_two_degrees_hold_one_cycle_at_half_a_cycle_per_degree():
    patch = Patch(Place(0, 0), 2.5, 3.5, 0.5, 90.0, 0.0)
    assert modulation(patch, [0.0, 0.5, 1.0, 1.5, 2.0], 0.0) == pytest.approx(
        [0, 1, 0, -1, 0], abs=1e-12
    )


@given(st.floats(-4.0, 4.0), st.floats(-4.0, 4.0))
def test_phase_180_is_the_same_grating_with_bars_exchanged(across, up):
    zero, half = (Patch(Place(0, 0), 2.5, 3.5, 0.5, 90.0, phase) for phase in (0.0, 180.0))
    assert modulation(half, across, up) == pytest.approx(-modulation(zero, across, up), abs=1e-12)


def test_the_space_average_of_a_patch_is_mean_grey():
    """Counterphase flicker must not flash: what brightens and what darkens cancel."""
    grid = np.linspace(-3.6, 3.6, 721)
    across, up = np.meshgrid(grid, grid)
    values = modulation(Patch(Place(0, 0), 2.5, 3.5, 0.5, 90.0, 0.0), across, up)
    assert abs(values.mean()) < 1e-12
    assert np.abs(values).max() <= 1.0
