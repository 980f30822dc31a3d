"""The certificate's time parts from the simulated instruments: the file's truth comes back."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.frames import timing_part
from calibration.instruments.simulated_time import (
    SimulatedDelays,
    SimulatedFlips,
    SimulatedPhotodiode,
)
from calibration.latency import latency_part
from calibration.response import flicker_part
from calibration.simulated import DisplayFile, SimulatedDisplay
from calibration.traces import sampled_trace

SAMPLES_HZ = 12000.0


def display(**changes) -> SimulatedDisplay:
    return SimulatedDisplay(DisplayFile(about="test", **changes))


def grey(codes) -> np.ndarray:
    """Codes of grey, shape (n, 3)."""
    return np.repeat(np.asarray(codes, float)[:, None], 3, axis=1)


def test_timing_comes_back():
    source = SimulatedFlips(display(refresh_hz=59.94, dropped_rate=0.002), seed=3)
    part = timing_part(source.flips_s(4000), source.flips_s(800, under_load=True), True)
    rest, load = source.asked
    assert (part.missed, part.missed_under_load) == (rest.dropped.sum(), load.dropped.sum())
    assert part.missed > 0 < part.missed_under_load
    assert part.refresh_hz.value == pytest.approx(59.94, abs=2e-4)
    assert part.interval_sd_s == pytest.approx(2e-5, rel=0.1)
    assert [hint.split(" flips ")[1].split(":")[0] for hint in part.hints] == [
        "at rest",
        "under load",
    ]


def test_a_period_that_lengthens_is_a_rate_that_falls():
    source = SimulatedFlips(display(), seed=4, drift_ppm=150.0)
    part = timing_part(source.flips_s(4000), source.flips_s(400), True)
    assert part.drift_ppm == pytest.approx(-150.0, rel=0.05)


def test_an_unsteady_display_still_gives_its_rate():
    source = SimulatedFlips(display(refresh_sd_s=0.002), seed=5)
    part = timing_part(source.flips_s(3000), source.flips_s(400), True)
    assert part.refresh_hz.value == pytest.approx(60.0, abs=5 * part.refresh_hz.type_a)
    assert part.interval_sd_s == pytest.approx(0.002, rel=0.1)


def test_flicker_comes_back_from_a_photodiode():
    """Prediction from noisy steps against the panel's own light at 20 Hz by Fourier analysis."""
    shown = display(
        rise_s=0.009, fall_s=0.003, gamma=[1.0] * 3, black_cd_m2=[0.0] * 3, noise_relative=0.01
    )
    diode = SimulatedPhotodiode(shown, seed=1)
    steps = diode.record(grey(np.tile(np.repeat([20.0, 235.0], 9), 9)), SAMPLES_HZ)
    flicker = grey(127.5 * (1 + 0.5 * np.cos(2 * np.pi * np.arange(180) / 3)))
    seen = diode.record(flicker, SAMPLES_HZ)
    part = flicker_part(
        sampled_trace(steps.t_s, steps.light, "steps"),
        [0.5],
        20.0,
        60.0,
    )
    measured = flicker_part(
        sampled_trace(steps.t_s, steps.light, "steps"),
        [],
        20.0,
        60.0,
        {0.5: sampled_trace(seen.t_s, seen.light, "flicker")},
    )
    light = shown_light(diode, flicker)
    spectrum = np.fft.rfft(light[-30 * 600 :])
    truth = 2 * abs(spectrum[30]) / spectrum[0].real
    for found in (part.delivered[0], measured.delivered[0]):
        delivered = 0.5 * found.frame_hold * found.panel_response.value
        assert delivered == pytest.approx(truth, rel=0.02)
    assert part.rise_s.value == pytest.approx(0.009 * np.log(9), rel=0.03)
    assert part.fall_s.value == pytest.approx(0.003 * np.log(9), rel=0.03)


def shown_light(diode: SimulatedPhotodiode, frames: np.ndarray) -> np.ndarray:
    t_s = np.arange(len(frames) * 200) / SAMPLES_HZ
    return diode.light_cd_m2(frames, t_s)


def test_delays_come_back():
    rig = SimulatedDelays(display(photon_delay_s=0.021, press_delay_s=0.005), seed=7)
    at = np.arange(300) * 0.4
    part = latency_part(at, at + rig.photon_delays_s(300), at, at + rig.press_delays_s(300))
    assert part.photon_s.value == pytest.approx(0.021, abs=1.5e-4)
    assert part.press_s.value == pytest.approx(0.005, abs=1.5e-4)
    assert part.correction_s == pytest.approx(0.026, abs=3e-4)
