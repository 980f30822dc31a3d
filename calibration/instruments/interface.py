"""What every instrument can do, and the plain data that passes between them and the rest."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from typing import Literal, Protocol, get_args

from calibration.certificate import Instrument, ReadingLine
from protocols.errors import InputError, OrderError, RipplefieldError
from protocols.field import Floats

Channel = Literal["red", "green", "blue", "white"]
CHANNELS: tuple[Channel, ...] = get_args(Channel)
State = Literal["good", "over", "under"]

_LIT = {"red": (1, 0, 0), "green": (0, 1, 0), "blue": (0, 0, 1), "white": (1, 1, 1)}
_OUT_OF_RANGE = {
    "over": ("over range", "Choose a less sensitive range or a smaller aperture, and measure on."),
    "under": ("under range", "Choose a more sensitive range, darken the room, and measure on."),
}


class InstrumentLost(RipplefieldError):
    """The instrument went away in the middle; `measured` holds the readings made before."""

    def __init__(self, sentence: str, measured: tuple[ReadingLine, ...] = ()) -> None:
        self.sentence = sentence
        self.measured = measured
        super().__init__(sentence)


@dataclass(frozen=True)
class Target:
    """A colour to measure: one channel lit at a code value, the others at code 0; white lights all.

    Raises InputError for an unknown channel or a negative code.

    >>> Target("green", 128).codes
    (0, 128, 0)
    """

    channel: Channel
    code: int

    def __post_init__(self) -> None:
        if self.channel not in CHANNELS:
            raise InputError("channel", self.channel, ", ".join(CHANNELS), "Name one of them.")
        if self.code < 0:
            raise InputError("code", self.code, "0 or more", "Give a code value of the display.")

    @property
    def codes(self) -> tuple[int, int, int]:
        """Code values of red, green and blue."""
        red, green, blue = _LIT[self.channel]
        return red * self.code, green * self.code, blue * self.code

    def __str__(self) -> str:
        return f"{self.channel} at code {self.code}"


@dataclass(frozen=True)
class Reading:
    """One or more repeats of one reading, cd/m2, by the instrument `source`.

    In state `over` or `under` a repeat was out of the instrument's range: there is no value then.
    """

    source: str
    repeats_cd_m2: tuple[float, ...]
    state: State = "good"

    @property
    def cd_m2(self) -> float:
        """Mean of the repeats, cd/m2; raises InputError if the reading was out of range."""
        if self.state != "good":
            given, todo = _OUT_OF_RANGE[self.state]
            raise InputError(self.source, given, "a reading within its range", todo)
        return statistics.fmean(self.repeats_cd_m2)

    @property
    def sd_cd_m2(self) -> float | None:
        """Sample standard deviation of the repeats, cd/m2; None for a single one."""
        return statistics.stdev(self.repeats_cd_m2) if len(self.repeats_cd_m2) > 1 else None


class Photometer(Protocol):
    """Reads luminance. Order: `start`, any number of `look_at` and `read_cd_m2`, `close`."""

    @property
    def name(self) -> str:
        """What messages call it."""

    @property
    def identity(self) -> Instrument:
        """What the certificate says of it; complete once started."""

    @property
    def settle_s(self) -> float:
        """How long it needs after a change of light, seconds."""

    def start(self) -> None:
        """Make it ready. Raises InputError if it cannot be."""

    def look_at(self, target: Target) -> None:
        """Be told what the screen shows from now on; a meter with eyes of its own ignores it."""

    def read_cd_m2(self, repeats: int = 1) -> Reading:
        """Read what it is pointed at. Raises InputError, InstrumentLost or OrderError."""

    def close(self) -> None:
        """Let go of it; twice is fine."""


@dataclass(frozen=True)
class Trace:
    """Light over time at one place: sample times (n,), s, and light (n,) in `unit`."""

    t_s: Floats
    light: Floats
    unit: str


class Photodiode(Protocol):
    """Records light over time while the screen shows a sequence of frames."""

    @property
    def identity(self) -> Instrument:
        """What the certificate says of it."""

    def record(self, frames: Floats, sample_rate_hz: float) -> Trace:
        """Trace while `frames`, codes of shape (n, 3), are shown one a refresh."""


class FlipSource(Protocol):
    """Says when frames were flipped."""

    def flips_s(self, count: int, under_load: bool = False) -> Floats:
        """Times of so many flips that were asked for, ascending, shape (count,), s."""


class DelayRig(Protocol):
    """Measures delays by a loop-back: light back to a photodiode, a press back to the button."""

    def photon_delays_s(self, count: int) -> Floats:
        """Delays from flip to light, shape (count,), s."""

    def press_delays_s(self, count: int) -> Floats:
        """Delays from a press to its time stamp, shape (count,), s."""


def require_started(started: bool, name: str) -> None:
    """Raise OrderError unless an instrument was started."""
    if not started:
        raise OrderError(f"{name} is not started: start it before a reading")
