"""The one interface of all procedures."""

from __future__ import annotations

from typing import NamedTuple, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from protocols.field import Floats

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
S = TypeVar("S")


class Estimate(NamedTuple):
    """What the procedure itself believes: each of shape (exams, places); levels in contrast dB."""

    mean_db: Floats
    sd_db: Floats
    finished: Bools


class Procedure(Protocol[S]):
    """State in, state out. Levels are nominal contrast dB of the display in use."""

    def start(self, limits_db: Floats) -> S:
        """State before the first presentation; limits of shape (exams, places)."""

    def finished(self, state: S) -> Bools:
        """Which places need no more presentations, shape (exams, places)."""

    def propose(self, state: S, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Next place and level, each (exams,); u is a uniform draw; last_place -1 is none."""

    def update(self, state: S, place: Ints, level_db: Floats, seen: Bools) -> S:
        """State after one answer in each exam, arguments of shape (exams,)."""

    def estimate(self, state: S) -> Estimate:
        """Mean, SD and whether finished, each (exams, places)."""
