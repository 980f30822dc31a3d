"""Refresh, drift, missed and doubled frames from flip times whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from made_traces import words

from calibration.certificate import TimingPart
from calibration.frames import drift_ppm, plain_frames, refresh_hz, timing_part


def locked(flips: int, hz: float, seed: int = 0, jitter_s: float = 1e-4) -> np.ndarray:
    """Flips of a locked display: stamps a little late, by chance."""
    late = jitter_s * np.abs(np.random.default_rng(seed).standard_normal(flips))
    return 5.0 + np.arange(flips) / hz + late


def without(times: np.ndarray, *missed: int) -> np.ndarray:
    return np.delete(times, missed)


@pytest.mark.parametrize("hz", [59.94, 60.0, 74.973, 119.88, 143.856, 240.0])
def test_refresh_is_found_to_a_few_parts_per_million(hz):
    found = refresh_hz(plain_frames(locked(3000, hz)))
    assert abs(found.value / hz - 1) < 5e-6
    assert abs(found.value - hz) < found.expanded
    assert found.unit == "Hz"


def test_missed_frames_are_counted_and_do_not_slow_the_clock():
    times = without(locked(4000, 60.0), 500, 900, 901, 902, 3333)
    part = timing_part(times, locked(400, 60.0), True)
    assert (part.missed, part.doubled, part.flips) == (5, 0, 3995)
    assert abs(part.refresh_hz.value - 60.0) < 1e-3
    mean_rate = (len(times) - 1) / (times[-1] - times[0])
    assert abs(mean_rate - 60.0) > 50 * abs(part.refresh_hz.value - 60.0)


def test_a_flip_in_the_same_frame_as_the_last_is_doubled():
    times = locked(2000, 60.0)
    extra = times[[100, 700, 1500]] + 0.002
    part = timing_part(np.sort(np.concatenate([times, extra])), locked(400, 60.0), True)
    assert (part.doubled, part.missed) == (3, 0)
    assert abs(part.refresh_hz.value - 60.0) < 1e-3
    assert any("3 flips came within half a frame" in hint for hint in part.hints)


def test_outliers_are_late_stamps_not_missed_frames():
    times = locked(2000, 60.0)
    times[[50, 400, 1200]] += 0.004
    part = timing_part(times, locked(400, 60.0), True)
    assert part.missed == 0
    assert part.outliers == 6, "a late stamp lengthens one interval and shortens the next"
    assert part.interval_sd_s < 5e-4


def test_half_the_frames_missed_still_shows_the_true_frame():
    rng = np.random.default_rng(3)
    times = np.cumsum(rng.choice([1, 2], 3000, p=[0.4, 0.6])) / 60.0
    part = timing_part(times, locked(400, 60.0), True)
    assert abs(part.refresh_hz.value - 60.0) < 1e-6
    assert part.missed == pytest.approx(0.6 * 2999, rel=0.05)


def test_drift_is_the_change_of_the_rate_over_the_run():
    """t = n T (1 - a n / 2N): the rate rises by the share a from the first flip to the last."""
    n, rise = np.arange(6000), 200e-6
    times = n / 60.0 * (1 - rise * n / (2 * len(n)))
    assert drift_ppm(plain_frames(times)) == pytest.approx(200, rel=0.02)
    assert abs(drift_ppm(plain_frames(locked(6000, 60.0)))) < 5


@pytest.mark.parametrize("kind", ["jitter", "wander"])
def test_type_a_covers_the_truth_in_ninety_five_of_a_hundred_runs(kind):
    rng = np.random.default_rng(11)
    hits = 0
    for _ in range(200):
        times = np.arange(2000) / 60.0 + 1e-4 * rng.standard_normal(2000)
        if kind == "wander":
            times = np.cumsum(1 / 60.0 + 2e-5 * rng.standard_normal(2000))
        found = refresh_hz(plain_frames(times))
        hits += abs(found.value - 60.0) <= 2 * found.type_a
    print(f"{kind}: {hits / 2} % covered")
    assert 180 <= hits <= 199


def test_missed_under_load_are_counted_by_the_frame_found_at_rest():
    loaded = without(locked(1000, 60.0), *range(100, 200, 10))
    part = timing_part(locked(2000, 60.0), loaded, True)
    assert (part.missed, part.missed_under_load) == (0, 10)
    assert part.hints == [
        "10 frames were missed in 990 flips under load: close other programs, switch off power "
        "saving, and let no other window draw."
    ]


def test_every_interval_is_in_the_histogram_however_long():
    times = locked(2000, 60.0)
    times[1000:] += 1.0
    part = timing_part(times, locked(400, 60.0), True)
    assert sum(part.histogram_counts) == 1999
    assert len(part.histogram_edges_s) == len(part.histogram_counts) + 1
    assert part.histogram_counts[-1] == 1
    assert np.all(np.diff(part.histogram_edges_s) > 0)


def test_a_clean_locked_display_has_no_hints():
    part = timing_part(locked(3000, 60.0), locked(500, 60.0), True)
    assert isinstance(part, TimingPart)
    assert part.hints == []
    assert (part.missed, part.doubled, part.outliers, part.missed_under_load) == (0, 0, 0, 0)


def test_exact_times_are_taken_too():
    part = timing_part(np.arange(1000) / 60, np.arange(300) / 60, True)
    assert part.refresh_hz.value == pytest.approx(60.0, abs=1e-9)
    assert part.hints == []


def test_too_few_flips_are_refused():
    assert words(lambda: timing_part(locked(999, 60.0), locked(400, 60.0), True)) == (
        "flips_s, number of values: got 999; allowed: 1000 or more. "
        "Time the flips again: some thousands of them, in order, on one clock."
    )
    assert words(lambda: timing_part(locked(1000, 60.0), locked(299, 60.0), True)) == (
        "loaded_flips_s, number of values: got 299; allowed: 300 or more. "
        "Time the flips under load again, in order, on one clock."
    )


def test_times_out_of_order_are_refused():
    times = np.arange(1000) / 50
    times[501] = times[499]
    assert words(lambda: timing_part(times, times, True)) == (
        'flips_s: got "9.98 after 10 at number 502"; allowed: each time later than the one '
        "before. Time the flips again: some thousands of them, in order, on one clock."
    )


def test_a_time_that_is_no_number_is_refused():
    times = np.arange(1000) / 50
    times[7] = np.nan
    assert words(lambda: timing_part(times, times, True)) == (
        'flips_s: got "nan at number 8"; allowed: numbers only. '
        "Time the flips again: some thousands of them, in order, on one clock."
    )


def test_a_table_of_times_is_refused():
    assert words(lambda: timing_part(np.zeros((10, 2)), np.arange(300.0), True)) == (
        'flips_s: got "an array of shape (10, 2)"; allowed: one row of numbers. '
        "Time the flips again: some thousands of them, in order, on one clock."
    )


def test_a_rate_no_display_has_is_refused():
    assert words(lambda: timing_part(np.arange(1000) / 5000, np.arange(300.0), False)) == (
        "flips_s, flips a second: got 5000; allowed: 20 to 600. The flips do not follow a "
        "display: turn vertical synchronisation on, or pace them."
    )


def test_flips_that_never_come_in_the_next_frame_are_refused():
    """Film on a 60 Hz display: two and three frames in turn, so none tells a frame's spread."""
    times = np.cumsum(np.tile([2 / 60, 3 / 60], 800))
    assert words(lambda: timing_part(times, times, True)) == (
        "flips_s, intervals of one frame: got 0; allowed: 2 or more, at 60 frames a second. "
        "Flip in every frame, and time the flips again."
    )
