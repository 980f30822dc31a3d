"""Contrast of flicker in a trace: its amplitude at the flicker rate over its mean level.

The amplitude is a Fourier coefficient over whole cycles, found by least squares in blocks, so that
the number of samples a cycle need not be whole. The blocks' spread is its uncertainty; the turn of
their phase shows a recorder whose clock differs from the display's, and is followed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calibration.certificate import Quantity
from calibration.samples import repeated
from calibration.traces import Trace, refuse_slow_sampling
from protocols.errors import InputError
from protocols.field import Floats

BLOCKS = 10
CLOCKS_PPM = 1000.0
CLEAR_OF_NOISE = 5.0


@dataclass(frozen=True)
class Flicker:
    """Flicker found in a trace: exact rate by the recorder's clock, amplitude and mean level."""

    rate_hz: float
    amplitude: Quantity
    mean: float


def measured_contrast(trace: Trace, flicker_hz: float, swing: float | None = None) -> Quantity:
    """Fundamental contrast of flicker in a trace, no unit.

    It is amplitude over mean, the mean taken above the trace's dark value. A trace that lost its
    mean (AC-coupled) needs `swing`, what full contrast spans in the trace's own unit when changed
    as fast: the contrast is then amplitude over half of it. Raises InputError where the mean is
    unknown or not above the dark, the sampling too slow, or no flicker is there.
    """
    found = find_flicker(trace, flicker_hz)
    level = _level(trace, found, swing)
    return Quantity(
        value=found.amplitude.value / level,
        type_a=found.amplitude.type_a / level,
        type_b=found.amplitude.type_b / level,
        unit="1",
    )


def find_flicker(trace: Trace, flicker_hz: float) -> Flicker:
    """Amplitude at the flicker rate over whole cycles, in ten blocks; raises InputError."""
    refuse_slow_sampling(trace, flicker_hz)
    cycles = int(trace.seconds * flicker_hz / BLOCKS)
    if cycles < 1:
        raise InputError(
            f"{trace.source}, whole cycles of flicker",
            int(trace.seconds * flicker_hz),
            f"{BLOCKS} or more",
            "Record the flicker for longer.",
        )
    turning = np.unwrap(np.angle(_coefficients(trace, flicker_hz, cycles)[0]))
    turn = float(np.polyfit(np.arange(BLOCKS), turning, 1)[0])
    exact_hz = flicker_hz * (1 + turn / (2 * np.pi * cycles))
    found, means = _coefficients(trace, exact_hz, cycles)
    mean_phase = np.exp(-1j * np.angle(np.sum(found)))
    amplitude = repeated("amplitudes", np.real(found * mean_phase), BLOCKS, 0.0, "1")
    _refuse_absent(trace, flicker_hz, exact_hz, amplitude)
    return Flicker(exact_hz, amplitude, float(np.mean(means)))


def fundamental(value: Floats, rate_hz: float, frequency_hz: float) -> complex:
    """Amplitude and phase (as a complex number) at a frequency of samples, shape (n,).

    In the unit of the samples.

    >>> t = np.arange(1000) / 1000
    >>> round(abs(fundamental(2 + 0.5 * np.cos(2 * np.pi * 20 * t), 1000.0, 20.0)), 9)
    0.5
    """
    amplitude, _ = _coefficient(np.arange(len(value)) / rate_hz, value, frequency_hz)
    return amplitude


def _coefficient(t_s: Floats, value: Floats, frequency_hz: float) -> tuple[complex, float]:
    angle = 2 * np.pi * frequency_hz * t_s
    design = np.stack([np.ones(len(t_s)), np.cos(angle), np.sin(angle)], axis=1)
    (mean, even, odd), *_ = np.linalg.lstsq(design, value, rcond=None)
    return complex(even, -odd), float(mean)


def _coefficients(
    trace: Trace, frequency_hz: float, cycles: int
) -> tuple[NDArray[np.complex128], Floats]:
    ends = np.arange(BLOCKS + 1) * cycles / frequency_hz * trace.rate_hz
    cuts = np.minimum(np.round(ends).astype(int), len(trace.value))
    t_s = trace.time_s
    parts = [slice(a, b) for a, b in pairwise(cuts)]
    found = [_coefficient(t_s[part], trace.value[part], frequency_hz) for part in parts]
    return np.array([a for a, _ in found]), np.array([mean for _, mean in found])


def _refuse_absent(trace: Trace, flicker_hz: float, exact_hz: float, amplitude: Quantity) -> None:
    off_ppm = abs(exact_hz / flicker_hz - 1) * 1e6
    if amplitude.value > CLEAR_OF_NOISE * amplitude.type_a and off_ppm <= CLOCKS_PPM:
        return
    raise InputError(
        f"{trace.source}, flicker at {flicker_hz:g} Hz",
        f"amplitude {amplitude.value:.3g} +- {amplitude.type_a:.2g} at {exact_hz:.6g} Hz",
        f"clear of the noise and within {CLOCKS_PPM:g} ppm of the rate",
        "Check the rate, put the photodiode on the flickering patch, and record again.",
    )


def _level(trace: Trace, found: Flicker, swing: float | None) -> float:
    if swing is not None:
        if not 0 < swing < np.inf:
            raise InputError(
                f"{trace.source}, swing of full contrast",
                float(swing),
                "a number above 0, in the trace's own unit",
                "Measure what full contrast spans.",
            )
        return swing / 2
    if trace.ac_coupled:
        raise InputError(
            f"{trace.source}, mean level",
            "an AC-coupled trace",
            "a trace that keeps its mean, or the swing of full contrast",
            "State the swing, or record through an input that passes a constant level.",
        )
    level = found.mean - trace.dark_value
    if not 0 < level < np.inf:
        raise InputError(
            f"{trace.source}, mean level above the dark",
            level,
            "above 0",
            "Measure the dark value with the photodiode covered, and state it.",
        )
    return level
