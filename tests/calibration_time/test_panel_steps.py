"""Rise and fall fitted to steps: recovery of the simulated panel, and what is refused."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest
from made_traces import RATE_HZ, step_trace, through_audio, words

from calibration.edges import restored
from calibration.steps import fit_steps
from calibration.traces import Trace

PANELS = [(0.001, 0.001), (0.004, 0.004), (0.012, 0.012), (0.002, 0.009), (0.011, 0.003)]


@pytest.mark.parametrize(("rise", "fall"), PANELS)
def test_time_constants_are_recovered_from_a_noisy_trace(rise, fall):
    fit = fit_steps(step_trace(rise, fall, noise=0.02))
    assert fit.rise_tau_s.value == pytest.approx(rise, rel=0.02)
    assert fit.fall_tau_s.value == pytest.approx(fall, rel=0.02)


def test_ten_to_ninety_percent_is_ln_9_time_constants():
    """Read off the waveform itself: where a noise-free rise passes 10 and 90 %."""
    t = np.arange(0, 0.1, 1e-6)
    light = 1 - np.exp(-t / 0.004)
    seen = np.interp(0.9, light, t) - np.interp(0.1, light, t)
    fit = fit_steps(step_trace(0.004, 0.004, noise=0.002))
    assert fit.rise_s.value == pytest.approx(seen, rel=0.005)


def test_the_stated_uncertainty_covers_the_truth():
    hits = 0
    for seed in range(60):
        tau = fit_steps(step_trace(0.005, 0.005, noise=0.03, seed=seed, cycles=5)).rise_tau_s
        hits += abs(tau.value - 0.005) <= tau.expanded
    print(f"covered {hits} of 60")
    assert hits >= 54


def test_an_instant_panel_is_found_faster_than_a_sample():
    fit = fit_steps(step_trace(0.0, 0.0))
    assert fit.rise_tau_s.value < 1 / RATE_HZ
    assert fit.rise_tau_s.type_b == pytest.approx(0.5 / RATE_HZ / 3**0.5)


@pytest.mark.parametrize("offset", [0.0, 0.05])
@pytest.mark.parametrize("corner_s", [0.05, 0.3])
def test_an_audio_input_that_sags_gives_the_same_panel(corner_s, offset):
    direct = step_trace(0.004, 0.007, noise=0.005)
    fit = fit_steps(through_audio(direct, corner_s, offset))
    assert fit.rise_tau_s.value == pytest.approx(0.004, rel=0.03)
    assert fit.fall_tau_s.value == pytest.approx(0.007, rel=0.03)


def test_sag_that_is_not_undone_would_have_been_wrong():
    sagging = through_audio(step_trace(0.004, 0.007, noise=0.005), 0.05)
    said = words(lambda: fit_steps(replace(sagging, ac_coupled=False)))
    assert said.startswith("audio, time at a level in ms: got 149")


def test_an_audio_input_that_forgets_within_a_level_is_refused():
    sagging = through_audio(step_trace(0.004, 0.004, noise=0.005, frames=24, cycles=5), 0.02)
    said = words(lambda: fit_steps(sagging))
    assert said.startswith("audio, time constant of the AC-coupled input in ms: got 20")
    assert said.endswith(
        "; allowed: 40 or more for steps this slow. Record quicker steps, or use an input that "
        "passes lower frequencies."
    )


def test_too_few_edges_are_refused():
    trace = step_trace(0.004, 0.004, cycles=2)
    assert words(lambda: fit_steps(trace)) == (
        "steps, whole rising edges: got 1; allowed: 3 or more. "
        "Record more steps from dark to light and back."
    )


def test_levels_held_too_briefly_are_refused():
    trace = step_trace(0.012, 0.012, frames=3)
    said = words(lambda: fit_steps(trace))
    assert said.startswith("steps, time at a level in ms: got 4")
    assert said.endswith(
        " or more for this panel. Record slower steps, so that each level is reached."
    )


def test_slow_sampling_is_refused():
    trace = replace(step_trace(0.004, 0.004), rate_hz=999.0)
    assert words(lambda: fit_steps(trace)) == (
        "steps, sampling rate in Hz: got 999; allowed: 1000 or more for rise and fall. "
        "Record the trace again with more samples a second."
    )


def test_a_panel_that_overshoots_is_refused():
    plain = step_trace(0.004, 0.004, noise=0.002)
    kick = np.convolve(np.diff(plain.value, prepend=plain.value[0]), np.exp(-np.arange(200) / 60))
    trace = Trace(plain.value + 0.5 * kick[: len(plain.value)], RATE_HZ, "steps")
    said = words(lambda: fit_steps(trace))
    assert said.startswith('steps, misfit of an exponential: got "')
    assert said.endswith(
        '% of the step"; allowed: 2%, or 3 times the noise. The panel overshoots, or its backlight '
        "flickers: switch overdrive and dimming of the backlight off, or record the flicker itself "
        "at each contrast."
    )


def test_an_audio_trace_with_a_crackle_is_levelled_as_without():
    """A burst of one sample is an edge with no level behind it."""
    trace = through_audio(step_trace(0.002, 0.002), 0.5)
    crackled = trace.value.copy()
    crackled[[700, 1400]] += 10 * np.ptp(trace.value)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = restored(replace(trace, value=crackled)).value
    assert np.delete(found, [700, 1400]) == pytest.approx(
        np.delete(restored(trace).value, [700, 1400]), abs=0.1 * np.ptp(trace.value)
    )
