"""A sampled sinusoid held for each frame keeps sin(x)/x of its amplitude, x = pi * f / R.

Computed from the formula for 18 Hz on 60 and 120 Hz, and for 25 Hz on 60, 120 and 240 Hz. The
formula itself is checked against a held waveform, sampled finely, by its Fourier component.
"""

from __future__ import annotations

import numpy as np
import pytest

from protocols.grating import frame_hold, frame_plan

AREA = "Display"
SOURCE = "sin(x)/x of a sample held for a frame, x = pi f / R (computed)"

HELD = [
    (18.0, 60.0, 0.85839),
    (18.0, 120.0, 0.96340),
    (25.0, 60.0, 0.73791),
    (25.0, 120.0, 0.93012),
    (25.0, 240.0, 0.98225),
]


@pytest.mark.parametrize(("frequency_hz", "refresh_hz", "share"), HELD)
def test_share_of_the_amplitude(truth, frequency_hz, refresh_hz, share):
    what = f"share of {frequency_hz:g} Hz kept by frames at {refresh_hz:g} Hz"
    truth(what, frame_hold(frequency_hz, refresh_hz), share, 5e-6)


@pytest.mark.parametrize(("frequency_hz", "refresh_hz", "share"), HELD)
def test_share_from_a_held_waveform(frequency_hz, refresh_hz, share):
    """One second holds whole cycles of each; 200 samples a frame stand for continuous light."""
    per_frame = 200
    frames = np.cos(2 * np.pi * frequency_hz / refresh_hz * np.arange(int(refresh_hz)))
    light = np.repeat(frames, per_frame)
    t_s = (np.arange(len(light)) + 0.5) / (per_frame * refresh_hz)
    amplitude = 2 * abs(np.mean(light * np.exp(-2j * np.pi * frequency_hz * t_s)))
    assert amplitude == pytest.approx(share, abs=5e-5)


@pytest.mark.parametrize("refresh_hz", [60.0, 75.0, 120.0, 144.0])
def test_our_own_flicker_keeps_what_the_formula_says(refresh_hz):
    """The bundled flicker as frames on a screen, held: fundamental against the formula."""
    plan = frame_plan(0.6, 0.0, 20.0, refresh_hz)
    whole = plan.factors[: plan.frames // plan.frames_per_cycle * plan.frames_per_cycle]
    light = np.repeat(whole, 200)
    t_s = (np.arange(len(light)) + 0.5) / (200 * refresh_hz)
    amplitude = 2 * abs(np.mean(light * np.exp(-2j * np.pi * plan.flicker_hz * t_s)))
    assert amplitude == pytest.approx(frame_hold(plan.flicker_hz, refresh_hz), abs=5e-5)
