"""Simulated instruments give what their display's file says, and record what they were asked."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.instruments import Target
from calibration.instruments.simulated import SimulatedPhotometer
from calibration.instruments.simulated_time import (
    SimulatedDelays,
    SimulatedFlips,
    SimulatedPhotodiode,
)
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols.errors import InputError, OrderError


def display(**changes: object) -> SimulatedDisplay:
    return SimulatedDisplay(DisplayFile(about="Invented.", **changes))


def linear(**changes: object) -> SimulatedDisplay:
    """Luminance proportional to the code, no noise."""
    return display(
        gamma=[1.0] * 3, black_cd_m2=[0.0] * 3, noise_relative=0.0, noise_cd_m2=0.0, **changes
    )


def started(shown: SimulatedDisplay, **options: object) -> SimulatedPhotometer:
    meter = SimulatedPhotometer(shown, **options)
    meter.start()
    return meter


def grey(levels) -> np.ndarray:
    return np.repeat(np.asarray(levels, float)[:, None], 3, axis=1)


def fundamental(light: np.ndarray, t_s: np.ndarray, rate_hz: float) -> float:
    """Amplitude of one frequency, by direct Fourier analysis of whole cycles."""
    return float(2 * np.abs(np.mean(light * np.exp(-2j * np.pi * rate_hz * t_s))))


def test_the_photometers_noise_is_the_files():
    shown = display(noise_relative=0.02, noise_cd_m2=0.0)
    meter = started(shown, seed=2)
    meter.look_at(Target("white", 255))
    values = np.concatenate([meter.read_cd_m2(100).repeats_cd_m2 for _ in range(20)])
    truth = float(shown.cd_m2([255, 255, 255]))
    assert values.mean() == pytest.approx(truth, rel=0.002)
    assert values.std() == pytest.approx(0.02 * truth, rel=0.06)


def test_place_and_warm_up_reach_the_reading():
    shown = linear(corner_drop=0.2, warm_up_drop=0.5, warm_up_s=100.0)
    meter = started(shown)
    meter.look_at(Target("green", 255))
    middle = meter.read_cd_m2().cd_m2
    meter.point_at(1.0, -1.0)
    assert meter.read_cd_m2().cd_m2 == pytest.approx(0.8 * middle)
    meter.point_at(0.0, 0.0)
    meter.switched_on(100.0 * np.log(2))
    assert meter.read_cd_m2().cd_m2 == pytest.approx(0.75 * middle)
    meter.switched_on(None)
    assert meter.read_cd_m2().cd_m2 == middle
    assert [(asked.x, asked.y) for asked in meter.asked] == [(0, 0), (1, -1), (0, 0), (0, 0)]
    assert meter.asked[2].after_s == pytest.approx(69.3147, abs=1e-4)


def test_the_same_seed_reads_the_same():
    readings = []
    for _ in range(2):
        meter = started(display(), seed=11)
        meter.look_at(Target("red", 90))
        readings.append(meter.read_cd_m2(5))
    assert readings[0] == readings[1]


@pytest.mark.parametrize(("limits", "state"), [((0.0, 5.0), "over"), ((300.0, 900.0), "under")])
def test_what_is_out_of_its_range(limits, state):
    meter = started(display(), range_cd_m2=limits)
    meter.look_at(Target("green", 255))
    assert meter.read_cd_m2(3).state == state
    assert meter.asked[0].truth_cd_m2 == pytest.approx(175.0 + 0.08 + 0.05)


def test_a_trace_is_that_of_the_displays_own_panel():
    """Two routes: closed form within each frame, and the display's own step-by-step panel."""
    shown = linear(rise_s=0.006, fall_s=0.011, refresh_hz=50.0)
    frames = grey([0, 255, 255, 40, 200, 0, 0, 255])
    trace = SimulatedPhotodiode(shown).record(frames, 10_000.0)
    assert len(trace.t_s) == 1600
    wanted = np.repeat(shown.cd_m2(frames), 200)
    stepped = shown.panel_follows(wanted, 1 / 10_000.0)
    assert trace.light[1:] == pytest.approx(stepped[:-1], abs=1e-9 * stepped.max())


def test_ten_to_ninety_percent_takes_the_time_constant_times_ln_9():
    """First-order step response: textbook, ln 9 = 2.1972."""
    shown = linear(rise_s=0.005, fall_s=0.008, refresh_hz=10.0)
    trace = SimulatedPhotodiode(shown).record(grey([0, 255, 0]), 100_000.0)
    relative = trace.light / shown.cd_m2([255, 255, 255])
    up = trace.t_s[(trace.t_s > 0.1) & (trace.t_s < 0.2)]
    rising = relative[(trace.t_s > 0.1) & (trace.t_s < 0.2)]
    falling = relative[trace.t_s >= 0.2]
    rise_s = np.interp(0.9, rising, up) - np.interp(0.1, rising, up)
    down = trace.t_s[trace.t_s >= 0.2]
    fall_s = np.interp(-0.1, -falling, down) - np.interp(-0.9, -falling, down)
    assert rise_s == pytest.approx(0.005 * 2.1972, rel=1e-3)
    assert fall_s == pytest.approx(0.008 * 2.1972, rel=1e-3)


@pytest.mark.parametrize(
    ("flicker_hz", "refresh_hz", "share"),
    [(18, 60, 0.85839), (18, 120, 0.96340), (25, 60, 0.73791), (25, 120, 0.93012),
     (25, 240, 0.98225)],
)  # fmt: skip
@pytest.mark.parametrize("constant_s", [0.0, 0.004, 0.012])
def test_frames_held_and_a_slow_panel_by_fourier(flicker_hz, refresh_hz, share, constant_s):
    """Frame hold: sin(pi f/R)/(pi f/R), printed values from the cited formula. A panel with one
    time constant up and down is a first-order filter: 1/sqrt(1 + (2 pi f tau)^2), textbook."""
    shown = linear(rise_s=constant_s, fall_s=constant_s, refresh_hz=float(refresh_hz))
    n = np.arange(3 * refresh_hz)
    frames = grey(127.5 * (1 + 0.5 * np.sin(2 * np.pi * flicker_hz * n / refresh_hz)))
    trace = SimulatedPhotodiode(shown).record(frames, 48_000.0)
    last = trace.t_s >= 2.0
    got = fundamental(trace.light[last], trace.t_s[last], flicker_hz)
    wanted = 0.5 * 0.5 * float(shown.cd_m2([255, 255, 255]))
    panel = 1 / np.sqrt(1 + (2 * np.pi * flicker_hz * constant_s) ** 2)
    assert got / wanted == pytest.approx(share * panel, rel=2e-4)


def test_a_trace_has_the_files_noise_and_a_record():
    shown = display(noise_relative=0.0, noise_cd_m2=0.5)
    diode = SimulatedPhotodiode(shown, seed=3)
    trace = diode.record(grey([200] * 60), 10_000.0)
    assert trace.light.std() == pytest.approx(0.5, rel=0.05)
    assert (trace.unit, diode.asked) == ("cd/m2", [(60, 10_000.0)])
    assert diode.identity.simulated


def test_flips_keep_the_files_rate_and_jitter():
    source = SimulatedFlips(display(refresh_hz=75.0, refresh_sd_s=1e-4), seed=4)
    intervals = np.diff(source.flips_s(20_000))
    assert intervals.mean() == pytest.approx(1 / 75, rel=1e-5)
    assert intervals.std(ddof=1) == pytest.approx(1e-4, rel=0.03)


def test_dropped_frames_make_long_intervals_and_load_makes_more():
    source = SimulatedFlips(display(dropped_rate=0.01), seed=5)
    for under_load, rate in ((False, 0.01), (True, 0.1)):
        long = np.diff(source.flips_s(20_000, under_load)) > 1.5 / 60
        assert long.mean() == pytest.approx(rate, rel=0.15)
        assert np.array_equal(long, source.asked[-1].dropped[1:])
        assert source.asked[-1].under_load is under_load


def test_drift_is_the_periods_change_over_a_run():
    source = SimulatedFlips(display(refresh_sd_s=0.0), drift_ppm=200.0)
    intervals = np.diff(source.flips_s(10_001))
    assert (intervals[-1] / intervals[0] - 1) * 1e6 == pytest.approx(200.0, rel=0.01)


def test_delays_have_the_files_mean_and_spread():
    rig = SimulatedDelays(display(photon_delay_s=0.02, press_delay_s=0.003), seed=6)
    for drawn, mean_s in ((rig.photon_delays_s(20_000), 0.02), (rig.press_delays_s(20_000), 0.003)):
        assert drawn.mean() == pytest.approx(mean_s, rel=0.01)
        assert drawn.std() == pytest.approx(0.0006, rel=0.05)
        assert drawn.min() > 0
    assert rig.asked == [("photon", 20_000), ("press", 20_000)]


@pytest.mark.parametrize("changes", [{"delay_sd_s": 0.0}, {"photon_delay_s": 0.0}])
def test_delays_without_spread_or_without_length(changes):
    shown = display(**changes)
    drawn = SimulatedDelays(shown).photon_delays_s(3)
    assert drawn.tolist() == [shown.file.photon_delay_s] * 3


REFUSALS = {
    "code": (
        lambda: started(display()).look_at(Target("red", 256)),
        "code: got 256; allowed: 0 to 255. Name a code the simulated display has.",
    ),
    "place": (
        lambda: started(display()).point_at(0.0, 1.5),
        "y: got 1.5; allowed: -1 to 1. Give a place on the screen.",
    ),
    "switched on": (
        lambda: started(display()).switched_on(-1.0),
        "after_s: got -1; allowed: 0 to 1e+06. Give seconds since switching on.",
    ),
    "sample rate": (
        lambda: SimulatedPhotodiode(display()).record(grey([1]), 10.0),
        "sample_rate_hz: got 10; allowed: 100 to 1e+06. Name the samples a second.",
    ),
    "frames": (
        lambda: SimulatedPhotodiode(display()).record(np.zeros((3, 2)), 1e4),
        'frames: got "(3, 2)"; allowed: shape (n, 3). Give red, green, blue codes of each frame.',
    ),
    "trace": (
        lambda: SimulatedPhotodiode(display()).record(grey(np.zeros(1000)), 1e6),
        "samples: got 16666666; allowed: 1 to 5e+06. Record fewer frames, or slower.",
    ),
    "flips": (
        lambda: SimulatedFlips(display()).flips_s(1),
        "count: got 1; allowed: 2 to 1e+06. Ask for some flips.",
    ),
    "drift": (
        lambda: SimulatedFlips(display(), drift_ppm=1e5),
        "drift_ppm: got 100000; allowed: -1000 to 1000. Give parts a million over a run.",
    ),
    "load": (
        lambda: SimulatedFlips(display(), load_factor=0.5),
        "load_factor: got 0.5; allowed: 1 to 1000. Say how many times more drop.",
    ),
    "delays": (
        lambda: SimulatedDelays(display()).press_delays_s(0),
        "count: got 0; allowed: 1 to 1e+06. Ask for some delays.",
    ),
}


@pytest.mark.parametrize("case", REFUSALS)
def test_what_is_refused(case):
    action, said = REFUSALS[case]
    with pytest.raises(InputError) as caught:
        action()
    assert str(caught.value) == said


def test_it_must_be_shown_something():
    meter = started(display())
    with pytest.raises(OrderError, match=r"looks at nothing: show it a target first$"):
        meter.read_cd_m2()
