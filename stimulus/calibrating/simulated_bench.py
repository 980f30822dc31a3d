"""A simulated display before simulated instruments: the whole job with known truth."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from calibration.card import size_by_ruler
from calibration.certificate import Identity, Instrument
from calibration.distance import distance_by_hand
from calibration.instruments.interface import Target
from calibration.instruments.simulated import SimulatedPhotometer, simulated_identity
from calibration.instruments.simulated_time import (
    SimulatedDelays,
    SimulatedFlips,
    SimulatedPhotodiode,
)
from calibration.simulated import SimulatedDisplay
from calibration.traces import Trace, sampled_trace
from calibration.warmup import WarmUp, warm_up
from protocols.field import Floats
from stimulus.calibrating.bench import Delays, Grids, Progress, Size

DISTANCE_CM = 35.0
RULER_SD_CM = 0.03
STEP_FRAMES, STEPS = 12, 20
SAMPLE_RATE_HZ = 10_000.0
EVENT_EVERY_S = 0.5
WARM_UP_MINUTES = 90
GREY_SHARE = 0.73
"""Mean grey as a share of the highest code."""

AVERAGED = 100
"""Readings averaged at one place or time: enough for a meter of 2 % noise to tell a slow drift."""


@dataclass
class SimulatedBench:
    """A bench in numbers only; the seed fixes every reading."""

    display: SimulatedDisplay
    seed: int
    distance_cm: float = DISTANCE_CM
    display_locked: bool = True
    settle_s: float = 0.0
    passes: int = 3
    _meter: SimulatedPhotometer = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._meter = SimulatedPhotometer(self.display, self.seed)
        self._meter.start()

    @property
    def identity(self) -> Identity:
        """A display that does not exist."""
        return Identity(
            machine="none: simulated",
            display_name=f"simulated: {self.display.file.about}",
            display_serial="none: simulated",
            width_px=self.display.file.width_px,
            height_px=self.display.file.height_px,
            system_tables_sha256=None,
            simulated=True,
        )

    @property
    def bits(self) -> int:
        """Bits of one channel."""
        return self.display.file.bits

    def size(self) -> Size:
        """Ruler and tape readings with a little noise."""
        rng = np.random.default_rng([self.seed, 1])
        file = self.display.file
        height_cm = file.width_cm * file.height_px / file.width_px
        width, height, distance = (
            truth + RULER_SD_CM * rng.standard_normal(3)
            for truth in (file.width_cm, height_cm, self.distance_cm)
        )
        return Size(size_by_ruler(width, height), distance_by_hand(distance), "simulated tape")

    def photometer(self) -> SimulatedPhotometer:
        """The simulated photometer before the middle of the warm display."""
        self._meter.point_at(0.0, 0.0)
        self._meter.switched_on(None)
        return self._meter

    def by_eye(self, progress: Progress) -> None:
        """Nobody looks: the simulated photometer measures."""

    def show(self, codes: tuple[int, int, int]) -> None:
        """Nothing: the simulated photometer is told what to look at."""

    def flips_s(self, count: int, under_load: bool) -> Floats:
        """Simulated flips."""
        source = SimulatedFlips(self.display, 2 * self.seed + under_load)
        return source.flips_s(count, under_load)

    def steps_trace(self) -> tuple[Trace, Instrument]:
        """Dark and full light in turn, as a simulated photodiode sees it."""
        top = self.display.top_code
        level = np.tile(np.repeat([0, top], STEP_FRAMES), STEPS)
        diode = SimulatedPhotodiode(self.display, self.seed)
        seen = diode.record(np.repeat(level[:, None], 3, axis=1), SAMPLE_RATE_HZ)
        trace = sampled_trace(seen.t_s, seen.light, "simulated photodiode")
        return trace, diode.identity

    def delays(self, count: int) -> tuple[Delays, Instrument]:
        """A simulated loop-back rig."""
        rig = SimulatedDelays(self.display, self.seed)
        causes: Floats = np.arange(count, dtype=float) * EVENT_EVERY_S
        found = Delays(
            causes,
            causes + rig.photon_delays_s(count),
            causes,
            causes + rig.press_delays_s(count),
        )
        return found, simulated_identity("loop-back rig", 1e-6)

    def grids(self, rows: int, columns: int, progress: Progress) -> Grids:
        """Mean grey, full and no light read at every grid point."""
        top = self.display.top_code
        read = np.empty((3, rows, columns))
        for row, y in enumerate(np.linspace(-1, 1, rows + 2)[1:-1]):
            for column, x in enumerate(np.linspace(-1, 1, columns + 2)[1:-1]):
                progress("uniformity", row * columns + column, rows * columns)
                codes = (self._grey, top, 0)
                read[:, row, column] = [self._at(float(x), float(y), code) for code in codes]
        return Grids(read[0], (read[1], read[2]))

    def warm_up(self, progress: Progress) -> WarmUp | None:
        """A reading a minute since switching on."""
        progress("uniformity, warming up", 0, 1)
        meter = self.photometer()
        meter.look_at(Target("white", self._grey))
        times = np.arange(WARM_UP_MINUTES) * 60.0
        light = []
        for after_s in times:
            meter.switched_on(float(after_s))
            light.append(meter.read_cd_m2(AVERAGED).cd_m2)
        meter.switched_on(None)
        return warm_up(times, light)

    @property
    def _grey(self) -> int:
        return round(self.display.top_code * GREY_SHARE)

    def _at(self, x: float, y: float, code: int) -> float:
        """Luminance of a code at a place, cd/m2."""
        meter = self.photometer()
        meter.look_at(Target("white", code))
        meter.point_at(x, y)
        return meter.read_cd_m2(AVERAGED).cd_m2
