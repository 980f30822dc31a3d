"""Simulated instruments of time: a photodiode's trace, flip times, delays. All record their use.

The truth is a simulated display's file: refresh, jitter, dropped frames, panel response, delays.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.certificate import Instrument
from calibration.instruments.interface import Trace
from calibration.instruments.simulated import simulated_identity
from calibration.simulated import SimulatedDisplay
from protocols.errors import InputError, require_within
from protocols.field import Floats

SAMPLE_RATE_RANGE_HZ = (100.0, 1e6)
LONGEST_TRACE = 5_000_000
COUNT_RANGE = (1, 1_000_000)


class SimulatedPhotodiode:
    """A photodiode at the middle of a simulated display; its trace carries the file's noise."""

    def __init__(self, display: SimulatedDisplay, seed: int = 0) -> None:
        self.display = display
        self.asked: list[tuple[int, float]] = []
        self._rng = np.random.default_rng(seed)

    @property
    def identity(self) -> Instrument:
        """A simulated photodiode."""
        return simulated_identity("photodiode", max(self.display.file.noise_relative, 1e-6))

    def record(self, frames: Floats, sample_rate_hz: float) -> Trace:
        """Trace of codes of shape (n, 3), one row a refresh; time 0 is the first frame's onset.

        The display has shown the first frame for long. Raises InputError for another shape, or a
        sample rate out of range.
        """
        require_within(
            "sample_rate_hz", sample_rate_hz, *SAMPLE_RATE_RANGE_HZ, "Name the samples a second."
        )
        shown = _frames(frames)
        light = self.light_cd_m2(shown, self._times(len(shown), sample_rate_hz))
        self.asked.append((len(shown), sample_rate_hz))
        noisy = light + self._noise(light)
        return Trace(self._times(len(shown), sample_rate_hz), noisy, "cd/m2")

    def light_cd_m2(self, frames: Floats, t_s: Floats) -> Floats:
        """The light itself, without noise, at ascending times, by the panel's own exponentials.

        Frames (k,), times and light (n,).
        """
        targets = self.display.cd_m2(frames)
        starts, constants = _panel_states(targets, self.display)
        period_s = 1 / self.display.file.refresh_hz
        frame = np.clip(np.floor(t_s / period_s + 1e-9).astype(int), 0, len(targets) - 1)
        since_s = np.maximum(t_s - frame * period_s, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            kept = np.where(constants[frame] > 0, np.exp(-since_s / constants[frame]), 0.0)
        return np.asarray(targets[frame] + (starts[frame] - targets[frame]) * kept, float)

    def _times(self, frames: int, sample_rate_hz: float) -> Floats:
        count = int(frames / self.display.file.refresh_hz * sample_rate_hz)
        require_within("samples", count, 1, LONGEST_TRACE, "Record fewer frames, or slower.")
        return np.arange(count) / sample_rate_hz

    def _noise(self, light: Floats) -> Floats:
        file = self.display.file
        spread = np.hypot(file.noise_relative * light, file.noise_cd_m2)
        return np.asarray(spread * self._rng.standard_normal(light.shape), float)


@dataclass(frozen=True)
class Flips:
    """A run of flips as it truly was: times (n,), s, and which frames came late by a refresh."""

    times_s: Floats
    dropped: NDArray[np.bool_]
    under_load: bool


class SimulatedFlips:
    """Flip times of a simulated display: jitter of each stamp, dropped frames, slow drift."""

    def __init__(
        self,
        display: SimulatedDisplay,
        seed: int = 0,
        drift_ppm: float = 0.0,
        load_factor: float = 10.0,
    ) -> None:
        require_within("drift_ppm", drift_ppm, -1000.0, 1000.0, "Give parts a million over a run.")
        require_within("load_factor", load_factor, 1.0, 1000.0, "Say how many times more drop.")
        self.display = display
        self.asked: list[Flips] = []
        self._rng = np.random.default_rng(seed)
        self._drift_ppm, self._load_factor = drift_ppm, load_factor

    def flips_s(self, count: int, under_load: bool = False) -> Floats:
        """Times of so many flips; the period drifts by `drift_ppm` from first to last."""
        require_within("count", count, 2, COUNT_RANGE[1], "Ask for some flips.")
        file = self.display.file
        rate = min(file.dropped_rate * (self._load_factor if under_load else 1.0), 0.5)
        dropped = self._rng.random(count) < rate
        dropped[0] = False
        periods = (1 + dropped) / file.refresh_hz
        periods *= 1 + self._drift_ppm * 1e-6 * np.linspace(-0.5, 0.5, count)
        stamps = np.cumsum(periods) - periods[0] + self._jitter_s(count)
        found = Flips(np.asarray(np.sort(stamps), float), dropped, under_load)
        self.asked.append(found)
        return found.times_s

    def _jitter_s(self, count: int) -> Floats:
        """Stamps whose differences have the file's SD: two stamps make an interval."""
        spread_s = self.display.file.refresh_sd_s / np.sqrt(2)
        return np.asarray(spread_s * self._rng.standard_normal(count), float)


class SimulatedDelays:
    """A loop-back rig on a simulated display; delays follow a gamma distribution, never below 0."""

    def __init__(self, display: SimulatedDisplay, seed: int = 0) -> None:
        self.display = display
        self.asked: list[tuple[str, int]] = []
        self._rng = np.random.default_rng(seed)

    def photon_delays_s(self, count: int) -> Floats:
        """Delays from flip to light, s."""
        return self._drawn("photon", self.display.file.photon_delay_s, count)

    def press_delays_s(self, count: int) -> Floats:
        """Delays from a press to its time stamp, s."""
        return self._drawn("press", self.display.file.press_delay_s, count)

    def _drawn(self, what: str, mean_s: float, count: int) -> Floats:
        require_within("count", count, *COUNT_RANGE, "Ask for some delays.")
        self.asked.append((what, count))
        sd_s = self.display.file.delay_sd_s
        if mean_s == 0 or sd_s == 0:
            return np.full(count, mean_s)
        drawn = self._rng.gamma((mean_s / sd_s) ** 2, sd_s**2 / mean_s, count)
        return np.asarray(drawn, float)


def _frames(frames: Floats) -> Floats:
    given = np.asarray(frames, float)
    if given.ndim != 2 or given.shape[1] != 3 or not len(given):
        raise InputError(
            "frames", str(given.shape), "shape (n, 3)", "Give red, green, blue codes of each frame."
        )
    return given


def _panel_states(targets: Floats, display: SimulatedDisplay) -> tuple[Floats, Floats]:
    """Light at each frame's onset and the time constant within it, shapes (n,)."""
    file, starts = display.file, np.empty(len(targets))
    constants = np.empty(len(targets))
    light = float(targets[0])
    for i, target in enumerate(targets):
        starts[i] = light
        constants[i] = file.rise_s if target > light else file.fall_s
        keep = np.exp(-1 / (file.refresh_hz * constants[i])) if constants[i] > 0 else 0.0
        light = float(target + (light - target) * keep)
    return starts, constants
