"""Traces of a simulated panel, and the exact words of a refusal."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from calibration.simulated import DisplayFile, SimulatedDisplay
from calibration.traces import Trace
from protocols.errors import InputError

RATE_HZ = 12000.0
DARK, LIGHT = 0.05, 1.0


def words(call: Callable[[], object]) -> str:
    """What a refused call says."""
    with pytest.raises(InputError) as refused:
        call()
    return str(refused.value)


def followed(frames: np.ndarray, rise_s: float, fall_s: float, refresh_hz: float = 60.0):
    """Light of a panel (time constants) shown `frames`, sampled at RATE_HZ."""
    panel = SimulatedDisplay(DisplayFile(about="test", rise_s=rise_s, fall_s=fall_s))
    return panel.panel_follows(np.repeat(frames, round(RATE_HZ / refresh_hz)), 1 / RATE_HZ)


def flicker_light(
    contrast: float, rise_s: float, fall_s: float, cycles: int, refresh_hz=60.0, per_cycle=3
):
    """The last `cycles` cycles of flicker after as many of settling; whole cycles."""
    k = np.arange(per_cycle)
    frames = np.tile(1 + contrast * np.cos(2 * np.pi * k / per_cycle), 2 * cycles)
    return followed(frames, rise_s, fall_s, refresh_hz)[
        -cycles * round(RATE_HZ * per_cycle / refresh_hz) :
    ]


def step_trace(
    rise_s: float,
    fall_s: float,
    noise: float = 0.01,
    seed: int = 1,
    frames: int = 9,
    cycles: int = 8,
) -> Trace:
    """A square wave of `frames` frames a level at 60 Hz as the panel follows it, with noise."""
    wanted = np.tile(np.repeat([DARK, LIGHT], frames), cycles + 1)
    light = followed(wanted, rise_s, fall_s)
    rng = np.random.default_rng(seed)
    return Trace(light + noise * rng.standard_normal(len(light)), RATE_HZ, "steps")


def through_audio(trace: Trace, time_constant_s: float, offset: float = 0.0) -> Trace:
    """The trace after a first-order high-pass filter, as an audio input passes it."""
    keep = np.exp(-1 / (trace.rate_hz * time_constant_s))
    out, last_in, last_out = np.empty(len(trace.value)), float(np.mean(trace.value)), 0.0
    for n, value in enumerate(trace.value):
        last_out = keep * (last_out + value - last_in)
        last_in = value
        out[n] = last_out
    return Trace(0.4 * out + offset, trace.rate_hz, "audio", ac_coupled=True)
