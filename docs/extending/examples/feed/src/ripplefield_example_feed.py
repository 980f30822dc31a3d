"""A photometer of your own: another program keeps the latest reading, in cd/m2, in a file.

`--photometer feed:PATH`. The other program writes a new file beside it and renames it, so that a
reading is never half there; it must have settled before it writes.
"""

from __future__ import annotations

import math
from pathlib import Path

from calibration.certificate import Instrument
from calibration.instruments.interface import InstrumentLost, Reading, Target, require_started
from calibration.instruments.photometer import REPEATS_RANGE, Details
from protocols.errors import InputError, OrderError, require_within

ABOUT = Instrument(
    kind="photometer", name="feed", serial="", relative_uncertainty=0.05, simulated=False
)


class Feed:
    """See `calibration.instruments.interface.Photometer`."""

    settle_s = 0.0

    def __init__(self, path: Path, details: Details | None) -> None:
        self.name = f"photometer feed:{path.name}"
        self.identity = (details or Details()).over(ABOUT)
        self._path = path
        self._started = False

    def start(self) -> None:
        """Raises InputError if there is no such file."""
        if self._started:
            raise OrderError(f"{self.name} is started already; close it first")
        if not self._path.is_file():
            todo = "Start the program that writes it."
            raise InputError("photometer", str(self._path), "a file that exists", todo)
        self._started = True

    def look_at(self, target: Target) -> None:
        """It looks for itself."""

    def read_cd_m2(self, repeats: int = 1) -> Reading:
        """Read the file so many times, cd/m2."""
        require_started(self._started, self.name)
        require_within("repeats", repeats, *REPEATS_RANGE, "Give a whole number of readings.")
        return Reading(self.name, tuple(self._once() for _ in range(repeats)))

    def close(self) -> None:
        """Nothing to let go of."""
        self._started = False

    def _once(self) -> float:
        try:
            value = float(self._path.read_text())
        except (OSError, ValueError):
            raise InstrumentLost(f"{self.name} holds no number any more") from None
        if not math.isfinite(value) or value < 0:
            raise InputError(self.name, value, "a luminance in cd/m2", "Look at the other program.")
        return value


def open_feed(detail: str, details: Details | None) -> Feed:
    """The photometer of `feed:PATH`; `details` are what the operator entered of it."""
    if not detail:
        raise InputError("photometer", "feed:", "feed:PATH", "Name the file after the colon.")
    return Feed(Path(detail), details)
