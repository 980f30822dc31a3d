"""Contrast delivered by a slow panel: closed form against direct Fourier analysis and by the trace.

Frame hold: sin(x)/x with x = pi f / R, the Fourier transform of a held frame; the values at 18 and
25 Hz are computed from that formula.
"""

from __future__ import annotations

import numpy as np
import pytest
from made_traces import RATE_HZ, flicker_light, step_trace, through_audio, words

from calibration.certificate import Quantity
from calibration.fourier import fundamental, measured_contrast
from calibration.response import (
    Panel,
    delivered,
    flicker_part,
    mean_step,
    measured_response,
    panel_response,
)
from calibration.steps import StepFit, fit_steps
from calibration.traces import Trace
from protocols.grating import frame_hold, frame_plan

TIMES_S = (0.001, 0.002, 0.004, 0.008, 0.012)


def direct(light: np.ndarray, cycles: int) -> float:
    """Amplitude over mean by the discrete Fourier transform over whole cycles."""
    spectrum = np.fft.rfft(light) / len(light)
    return float(2 * abs(spectrum[cycles]) / spectrum[0].real)


def fitted(rise_s: float, fall_s: float) -> StepFit:
    return StepFit(_tau(rise_s), _tau(fall_s), 0.0, 1.0, 0.0, 0.0)


def _tau(tau_s: float) -> Quantity:
    return Quantity(value=tau_s, type_a=1e-5, type_b=1e-5, unit="s")


@pytest.mark.parametrize(
    ("flicker_hz", "refresh_hz", "share"),
    [
        (18.0, 60.0, 0.85839),
        (18.0, 120.0, 0.96340),
        (25.0, 60.0, 0.73791),
        (25.0, 120.0, 0.93012),
        (25.0, 240.0, 0.98225),
    ],
)
def test_frame_hold_has_the_published_form(flicker_hz, refresh_hz, share):
    assert round(frame_hold(flicker_hz, refresh_hz), 5) == share


@pytest.mark.parametrize(("refresh_hz", "frames"), [(60.0, 3), (75.0, 4), (120.0, 6), (240.0, 12)])
def test_a_panel_without_delay_leaves_just_the_frame_hold(refresh_hz, frames):
    share = delivered(Panel(0.0, 0.0), 0.3, frames, refresh_hz).contrast / 0.3
    assert share == pytest.approx(frame_hold(refresh_hz / frames, refresh_hz), rel=1e-12)


@pytest.mark.parametrize("tau_s", [0.002, 0.008, 0.03])
def test_equal_rise_and_fall_are_a_linear_filter(tau_s):
    """A first-order low-pass: |H| = 1 / sqrt(1 + (2 pi f tau)^2), whatever the frames."""
    gain = 1 / np.hypot(1, 2 * np.pi * 20.0 * tau_s)
    line = panel_response(fitted(tau_s, tau_s), 0.4, 20.0, 60.0)
    assert line.panel_response.value == pytest.approx(gain, rel=1e-9)
    assert delivered(Panel(tau_s, tau_s), 0.4, 3, 60.0).mean == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize("refresh_hz", [60.0, 75.0, 120.0])
@pytest.mark.parametrize(("rise", "fall"), [(0.001, 0.012), (0.012, 0.001), (0.003, 0.006)])
def test_unequal_rise_and_fall_agree_with_direct_fourier_analysis(rise, fall, refresh_hz):
    n = round(refresh_hz / 20)
    light = flicker_light(0.7, rise, fall, 20, refresh_hz, n)
    found = delivered(Panel(rise, fall), 0.7, n, refresh_hz)
    assert found.contrast == pytest.approx(direct(light, 20), rel=2e-3)
    assert found.mean == pytest.approx(np.mean(light), rel=2e-3)


def test_a_cycle_of_the_plan_is_what_is_taken_for_the_cycle_shown():
    plan = frame_plan(1.0, 0.1, 20.0, 60.0)
    assert np.allclose(plan.factors[30:33], np.cos(2 * np.pi * np.arange(3) / 3))


def test_slow_60_hz_panel_predicted_within_two_percent_of_direct_fourier_analysis():
    """The promise: fitted from noisy steps, predicted, held against the simulated waveform."""
    worst = 0.0
    for rise in TIMES_S:
        for fall in TIMES_S:
            fit = fit_steps(step_trace(rise, fall, noise=0.02, cycles=6))
            for contrast in (0.01, 0.3, 1.0):
                truth = direct(flicker_light(contrast, rise, fall, 12), 12)
                line = panel_response(fit, contrast, 20.0, 60.0)
                predicted = contrast * line.frame_hold * line.panel_response.value
                worst = max(worst, abs(predicted / truth - 1))
    print(f"worst of 75: {worst:.2%}")
    assert worst < 0.02


@pytest.mark.parametrize("noise", [0.0, 0.02])
@pytest.mark.parametrize(("rise", "fall"), [(0.004, 0.004), (0.002, 0.011)])
def test_a_trace_of_the_flicker_itself_gives_the_same(rise, fall, noise):
    light = flicker_light(0.5, rise, fall, 60)
    rng = np.random.default_rng(5)
    trace = Trace(
        3 * light + 0.4 + noise * rng.standard_normal(len(light)), RATE_HZ, "f", False, 0.4
    )
    found = measured_contrast(trace, 20.0)
    assert found.value == pytest.approx(direct(light, 60), rel=2e-3)
    line = measured_response(trace, 0.5, 20.0, 60.0)
    predicted = panel_response(fitted(rise, fall), 0.5, 20.0, 60.0)
    assert line.panel_response.value == pytest.approx(predicted.panel_response.value, rel=5e-3)


def test_a_recorder_with_another_clock_is_followed():
    t = np.arange(240000) / 12000
    trace = Trace(1 + 0.3 * np.cos(2 * np.pi * 20 * (1 + 300e-6) * t + 1), 12000.0, "f")
    assert measured_contrast(trace, 20.0).value == pytest.approx(0.3, rel=1e-4)


def test_an_ac_coupled_trace_needs_the_swing_of_full_contrast():
    t = np.arange(24000) / 12000
    trace = Trace(0.12 * np.cos(2 * np.pi * 20 * t), 12000.0, "audio", ac_coupled=True)
    assert measured_contrast(trace, 20.0, swing=0.8).value == pytest.approx(0.3, rel=1e-6)
    assert words(lambda: measured_contrast(trace, 20.0)) == (
        'audio, mean level: got "an AC-coupled trace"; allowed: a trace that keeps its mean, or '
        "the swing of full contrast. State the swing, or record through an input that passes a "
        "constant level."
    )


def test_a_mean_not_above_the_dark_is_refused():
    t = np.arange(24000) / 12000
    trace = Trace(0.1 * np.cos(2 * np.pi * 20 * t) + 0.2, 12000.0, "f", False, 0.25)
    assert words(lambda: measured_contrast(trace, 20.0)) == (
        "f, mean level above the dark: got -0.05; allowed: above 0. "
        "Measure the dark value with the photodiode covered, and state it."
    )


def test_too_short_a_trace_of_flicker_is_refused():
    trace = Trace(np.ones(12000 * 9 // 20), 12000.0, "f")
    assert words(lambda: measured_contrast(trace, 20.0)) == (
        "f, whole cycles of flicker: got 9; allowed: 10 or more. Record the flicker for longer."
    )


@pytest.mark.parametrize("true_hz", [None, 20.3])
def test_no_flicker_at_the_rate_is_refused(true_hz):
    t = np.arange(24000) / 12000
    rng = np.random.default_rng(7)
    value = 1 + 0.1 * rng.standard_normal(len(t))
    if true_hz:
        value = value + 0.3 * np.cos(2 * np.pi * true_hz * t)
    said = words(lambda: measured_contrast(Trace(value, 12000.0, "f"), 20.0))
    assert said.startswith('f, flicker at 20 Hz: got "amplitude ')
    assert said.endswith(
        "; allowed: clear of the noise and within 1000 ppm of the rate. Check the rate, put the "
        "photodiode on the flickering patch, and record again."
    )


def test_the_fourier_coefficient_agrees_with_the_discrete_transform():
    rng = np.random.default_rng(9)
    value = rng.standard_normal(1200)
    assert fundamental(value, 1200.0, 20.0) == pytest.approx(2 * np.fft.rfft(value)[20] / 1200)


def test_the_part_holds_predicted_and_measured_lines():
    steps = step_trace(0.004, 0.007)
    flicker = Trace(flicker_light(0.5, 0.004, 0.007, 40), RATE_HZ, "f")
    part = flicker_part(steps, [0.05, 1.0], 20.0, 60.0, {0.5: flicker})
    assert [line.contrast for line in part.delivered] == [0.05, 0.5, 1.0]
    assert part.method.startswith("exponential rise and fall fitted to steps (steps); measured at ")
    assert 0.99 < float(part.method.split()[-4]) < 1.01, part.method
    assert part.rise_s.value == pytest.approx(0.004 * np.log(9), rel=0.02)
    assert part.fall_s.value == pytest.approx(0.007 * np.log(9), rel=0.02)
    assert len(part.trace_s) == len(part.trace_relative) <= 400
    assert min(part.trace_relative) > -0.1 < max(part.trace_relative) < 1.1
    predicted, measured = part.delivered[0].panel_response, part.delivered[1].panel_response
    assert predicted.type_b > 20 * measured.standard, "grey-level doubt is only in the predicted"


def test_an_audio_trace_says_so():
    part = flicker_part(through_audio(step_trace(0.004, 0.007), 0.2), [0.5], 20.0, 60.0)
    assert part.method.endswith("(audio, AC-coupled and levelled)")


@pytest.mark.parametrize("contrast", [0.0, 1.2])
def test_a_contrast_out_of_range_is_refused(contrast):
    assert words(lambda: panel_response(fitted(0.004, 0.004), contrast, 20.0, 60.0)) == (
        f"contrast: got {contrast:g}; allowed: 1e-06 to 1. Give the contrast as a share, 0 to 1."
    )


def test_a_flicker_the_screen_cannot_show_is_refused():
    assert words(lambda: panel_response(fitted(0.004, 0.004), 0.5, 40.0, 60.0)) == (
        "flicker_hz: got 40; allowed: up to half the refresh rate, 30 Hz here. "
        "Raise the refresh rate of the screen or lower the flicker rate."
    )


def test_a_panel_that_never_becomes_steady_is_refused():
    assert words(lambda: delivered(Panel(1e4, 2e4), 0.5, 3, 60.0)) == (
        'panel time constants in s: got "10000 up, 20000 down"; allowed: short enough for flicker '
        "to become steady. Measure the panel's response again."
    )


def test_a_mean_step_needs_two_rises():
    t = np.arange(2000)
    trace = Trace((t > 1000) + 0.001 * np.sin(t), RATE_HZ, "s")
    assert words(lambda: mean_step(trace)) == (
        "s, rises: got 1; allowed: 2 or more. Record more steps."
    )


@pytest.mark.parametrize("swing", [0.0, -1.0, np.nan])
def test_a_swing_that_is_none_is_refused(swing):
    t = np.arange(12000) / RATE_HZ
    trace = Trace(1 + 0.5 * np.cos(2 * np.pi * 20 * t), RATE_HZ, "trace", True)
    assert words(lambda: measured_contrast(trace, 20.0, swing)) == (
        f"trace, swing of full contrast: got {swing:g}; allowed: a number above 0, in the "
        "trace's own unit. Measure what full contrast spans."
    )
