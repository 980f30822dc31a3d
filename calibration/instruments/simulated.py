"""Instruments that measure a simulated display: known truth for demonstrations and tests.

Each keeps a record of what it was asked, as a real one is written down in a lab book.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.certificate import Instrument
from calibration.instruments.eye_match import Look, Request
from calibration.instruments.interface import Reading, Target, require_started
from calibration.instruments.photometer import REPEATS_RANGE
from calibration.simulated import SimulatedDisplay
from protocols.errors import InputError, OrderError, require_within
from protocols.field import Floats


def simulated_identity(kind: str, relative_uncertainty: float) -> Instrument:
    """What the certificate says of a simulated instrument."""
    return Instrument(
        kind=kind,
        name=f"simulated {kind}",
        serial="none: simulated",
        relative_uncertainty=relative_uncertainty,
        simulated=True,
    )


@dataclass(frozen=True)
class Asked:
    """One thing a simulated photometer was asked: where it looked, at what, when, what it said."""

    target: Target
    x: float
    y: float
    after_s: float | None
    truth_cd_m2: float
    reading: Reading


class SimulatedPhotometer:
    """A photometer before a simulated display, with that display's noise; `seed` fixes it.

    `range_cd_m2` is what it can read. It starts before the middle of a warm display; `point_at`
    moves it and `switched_on` sets how long ago the display was switched on.
    """

    settle_s = 0.0

    def __init__(
        self,
        display: SimulatedDisplay,
        seed: int = 0,
        range_cd_m2: tuple[float, float] = (0.0, 1e5),
        name: str = "simulated photometer",
    ) -> None:
        self.name = name
        self.display = display
        self.asked: list[Asked] = []
        self._rng = np.random.default_rng(seed)
        self._range = range_cd_m2
        self._target: Target | None = None
        self._place = (0.0, 0.0)
        self._after_s: float | None = None
        self._started = False

    @property
    def identity(self) -> Instrument:
        """Its uncertainty is the display file's share of noise."""
        return simulated_identity("photometer", max(self.display.file.noise_relative, 1e-6))

    def start(self) -> None:
        """Make it ready; raises OrderError if it is."""
        if self._started:
            raise OrderError(f"{self.name} is started already; close it first")
        self._started = True

    def look_at(self, target: Target) -> None:
        """Be told what the display shows from now on; raises InputError beyond its codes."""
        top = self.display.top_code
        require_within("code", target.code, 0, top, "Name a code the simulated display has.")
        self._target = target

    def point_at(self, x: float, y: float) -> None:
        """Point at a place, x and y from -1 (left, bottom) to 1; raises InputError beyond."""
        for name, value in (("x", x), ("y", y)):
            require_within(name, value, -1.0, 1.0, "Give a place on the screen.")
        self._place = (x, y)

    def switched_on(self, after_s: float | None) -> None:
        """Seconds since the display was switched on; None is warm for good.

        Raises InputError for less than none.
        """
        if after_s is not None:
            require_within("after_s", after_s, 0.0, 1e6, "Give seconds since switching on.")
        self._after_s = after_s

    def read_cd_m2(self, repeats: int = 1) -> Reading:
        """Read with noise. See `Photometer`; raises OrderError before it was told what is shown."""
        require_started(self._started, self.name)
        require_within("repeats", repeats, *REPEATS_RANGE, "Give a whole number of readings.")
        if self._target is None:
            raise OrderError(f"{self.name} looks at nothing: show it a target first")
        truth = self._truth_cd_m2(self._target)
        reading = self._read(self.display.measured(np.full(repeats, truth), self._rng))
        self.asked.append(Asked(self._target, *self._place, self._after_s, truth, reading))
        return reading

    def close(self) -> None:
        """Nothing to let go of."""
        self._started = False

    def _truth_cd_m2(self, target: Target) -> float:
        share = self.display.place_share(*self._place)
        if self._after_s is not None:
            share = share * self.display.warm_share(self._after_s)
        glow = self.display.glow_cd_m2(*self._place)
        return float(self.display.cd_m2(target.codes) * share + glow)

    def _read(self, values: Floats) -> Reading:
        low, high = self._range
        repeats = tuple(float(v) for v in values if low <= v <= high)
        if len(repeats) == len(values):
            return Reading(self.name, repeats)
        return Reading(self.name, repeats, "over" if float(np.max(values)) > high else "under")


Comparison = tuple[Request, Look]


class SimulatedEye:
    """An eye that compares a half-tone with a solid patch on a simulated display.

    `jnd_relative` is the just-noticeable difference, a share of luminance: the SD of the noise in
    one comparison. Differences that seem smaller than half of it look equal.
    """

    def __init__(self, display: SimulatedDisplay, jnd_relative: float, seed: int = 0) -> None:
        require_within("jnd_relative", jnd_relative, 1e-4, 0.3, "Give a share, such as 0.02.")
        self.display = display
        self.asked: list[Comparison] = []
        self._jnd = jnd_relative
        self._rng = np.random.default_rng(seed)

    @property
    def identity(self) -> Instrument:
        """A simulated eye."""
        return simulated_identity("eye", self._jnd)

    def compare(self, shown: Request) -> Look:
        """How the solid patch looks beside the half-tone; raises InputError for white."""
        if shown.channel == "white":
            raise InputError("channel", "white", "red, green, blue", "Match one channel at a time.")
        channel = ("red", "green", "blue").index(shown.channel)
        low, high, solid = self.display.channel_cd_m2(
            channel, [shown.low, shown.high, shown.solid]
        )
        pattern = (low + high) / 2
        seems = (solid - pattern) / pattern + self._jnd * self._rng.standard_normal()
        look: Look = "lighter" if seems > 0 else "darker"
        if abs(seems) < self._jnd / 2:
            look = "equal"
        self.asked.append((shown, look))
        return look


