"""Delays from paired events: recovery, honest uncertainty, refused ambiguity, raw kept."""

from __future__ import annotations

import numpy as np
import pytest
from made_traces import words

from calibration.latency import corrected_times, delay, latency_part, pair_events, raw_window_s

N = 400


def rig(delay_s: float, sd_s: float = 0.0006, seed: int = 0, n: int = N):
    rng = np.random.default_rng(seed)
    causes = np.arange(n) * 0.5 + 0.05 * rng.random(n)
    return causes, causes + delay_s + sd_s * rng.standard_normal(n)


def test_both_delays_and_their_sum_are_found():
    flips, photons = rig(0.012)
    contacts, stamps = rig(0.004, 0.0003, seed=1)
    part = latency_part(flips, photons, contacts, stamps)
    assert part.photon_s.value == pytest.approx(0.012, abs=1e-4)
    assert part.press_s.value == pytest.approx(0.004, abs=1e-4)
    assert part.correction_s == part.photon_s.value + part.press_s.value
    low, middle, high = part.photon_percentiles_s
    assert middle == part.photon_s.value
    assert high - low == pytest.approx(2 * 1.6449 * 0.0006, rel=0.15), "5 to 95 % of a normal"


@pytest.mark.parametrize("shape", ["normal", "exponential", "even"])
def test_type_a_covers_the_true_median_whatever_the_spread(shape):
    rng = np.random.default_rng(3)
    draw, median = {
        "normal": (lambda: rng.normal(0.01, 0.001, 120), 0.01),
        "exponential": (lambda: 0.004 + rng.exponential(0.003, 120), 0.004 + 0.003 * np.log(2)),
        "even": (lambda: rng.uniform(0.004, 0.0207, 120), 0.01235),
    }[shape]
    hits = 0
    for _ in range(400):
        found = delay(draw())
        hits += abs(found.value - median) <= 2 * found.type_a
    print(f"{shape}: {hits / 4} % covered")
    assert 0.91 <= hits / 400 <= 0.99


def test_a_few_lost_and_stray_events_leave_the_delay_alone():
    causes, events = rig(0.012)
    spoilt = np.sort(np.concatenate([np.delete(events, [5, 80, 81]), [100.3, 150.27]]))
    pairs = pair_events("photons_s", causes, spoilt)
    assert (pairs.lost, pairs.stray, len(pairs.delays_s)) == (3, 2, N - 3)
    assert np.median(pairs.delays_s) == pytest.approx(0.012, abs=2e-4)


def test_two_events_after_one_cause_are_refused():
    causes, events = rig(0.012)
    bounced = np.sort(np.append(events, events[10] + 0.003))
    assert words(lambda: pair_events("stamps_s", causes, bounced)) == (
        f'stamps_s: got "2 events after the cause at {causes[10]:.6f} s"; allowed: one event a '
        "cause. Keep the first edge only: remove contact bounce, or raise the photodiode's "
        "threshold."
    )


def test_causes_too_close_to_tell_apart_are_refused():
    causes = np.arange(200) * 0.125
    assert words(lambda: pair_events("photons_s", causes, causes + 0.01)) == (
        "photons_s, time between causes in s: got 0.125; allowed: above 0.2, the longest delay "
        "looked for. Space the events further apart: otherwise one may belong to either of two "
        "causes."
    )


def test_events_on_another_clock_are_refused():
    causes, events = rig(0.012)
    assert words(lambda: pair_events("photons_s", causes, events + 0.25)) == (
        'photons_s: got "400 causes without an event and 400 events without a cause, of 400"; '
        "allowed: up to 5% of either. Check that both are on one clock and that the rig sees "
        "every event."
    )


def test_events_that_came_before_their_causes_are_refused():
    causes, events = rig(-0.01)
    assert "events without a cause" in words(lambda: pair_events("photons_s", causes, events))


def test_too_few_events_are_refused():
    causes, events = rig(0.012, n=99)
    assert words(lambda: pair_events("photons_s", causes, events)) == (
        "photons_s, causes, number of values: got 99; allowed: 100 or more. "
        "Record the events again, in order, on one clock."
    )
    causes, events = rig(0.012, n=101)
    assert words(lambda: pair_events("photons_s", causes, events[:-3])) == (
        "photons_s, number of values: got 98; allowed: 100 or more. Record more events."
    )


def test_events_out_of_order_are_refused():
    causes, events = rig(0.0, 0.0)
    events[[0, 1]] = 3.0, 2.0
    assert words(lambda: pair_events("photons_s", causes, events)) == (
        'photons_s: got "2 after 3 at number 2"; allowed: each time later than the one before. '
        "Record the events again, in order, on one clock."
    )


def test_correcting_keeps_the_raw_times_and_the_constant():
    taken = corrected_times([0.35, 0.01, 0.9], 0.016)
    assert taken.raw_s.tolist() == [0.35, 0.01, 0.9]
    assert taken.corrected_s == pytest.approx([0.334, -0.006, 0.884])
    assert taken.correction_s == 0.016


def test_the_window_in_raw_times_accepts_just_what_the_window_in_corrected_times_does():
    rng = np.random.default_rng(1)
    raw = rng.uniform(0, 1.2, 2000)
    low, high = raw_window_s((0.1, 1.0), 0.0163)
    corrected = corrected_times(raw, 0.0163).corrected_s
    assert np.array_equal((raw >= low) & (raw <= high), (corrected >= 0.1) & (corrected <= 1.0))


@pytest.mark.parametrize("correction", [-0.001, 0.5])
def test_a_correction_out_of_range_is_refused(correction):
    said = f"correction_s: got {correction:g}; allowed: 0 to 0.4. Measure the latency again."
    assert words(lambda: corrected_times([0.3], correction)) == said
    assert words(lambda: raw_window_s((0.1, 1.0), correction)) == said


@pytest.mark.parametrize("limit_s", [-0.001, np.nan, 0.3])
def test_a_rigs_own_error_is_refused_unless_it_can_be_one(limit_s):
    events = (*rig(0.012), *rig(0.004))
    assert words(lambda: latency_part(*events, rig_limit_s=limit_s)) == (
        f"rig_limit_s: got {limit_s:g}; allowed: 0 to 0.2. Give the rig's own error in seconds."
    )
