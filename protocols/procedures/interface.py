"""The one interface of all procedures.

A procedure is pure: state in, state out. A state is a frozen dataclass of arrays whose leading
axis is the exam, so one exam and a thousand run the same code; what a row gets never depends on
the rows beside it, not in the last bit. Levels are nominal contrast dB of the display in use:
0 is full contrast, more is fainter.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from protocols.errors import InputError
from protocols.field import Floats

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
S = TypeVar("S")

NOBODY = -1
"""A place number that means "no answer in this exam": its row stays as it is."""

Z_95 = 1.959963984540054


class Estimate(NamedTuple):
    """What the procedure itself believes: each of shape (exams, places); levels in contrast dB."""

    mean_db: Floats
    sd_db: Floats
    finished: Bools


class Procedure(Protocol[S]):
    """State in, state out. Levels are nominal contrast dB of the display in use.

    Inherit from it: the methods with a body are what a plain procedure needs.
    """

    def start(self, limits_db: Floats) -> S:
        """State before the first presentation; limits of shape (exams, places).

        Raises InputError for another shape.
        """

    def finished(self, state: S) -> Bools:
        """Which places need no more presentations, shape (exams, places)."""

    def propose(self, state: S, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Next place and level, each (exams,); u is a uniform draw; last_place -1 is none.

        Raises InputError for another number of rows.
        """

    def update(self, state: S, place: Ints, level_db: Floats, seen: Bools) -> S:
        """State after one answer in each exam, arguments of shape (exams,).

        Place -1 means no answer in that exam: its row stays as it is. Raises InputError for another
        number of rows.
        """

    def estimate(self, state: S) -> Estimate:
        """Mean, SD and whether finished, each (exams, places)."""

    def left(self, state: S) -> Ints:
        """Least number of presentations at places still to come, shape (exams,)."""
        return np.asarray((~self.finished(state)).sum(axis=-1), np.int64)

    def heed(self, state: S, role: Ints, seen: Bools) -> S:
        """State after a catch trial, (exams,): role 1 blind spot, 2 blank, 3 full contrast, else 0.

        Most procedures learn nothing from catch trials.
        """
        return state

    def interval_db(self, state: S) -> tuple[Floats, Floats]:
        """Ends of the central 95 % interval, each (exams, places); a normal one if not known."""
        mean_db, sd_db, _ = self.estimate(state)
        return mean_db - Z_95 * sd_db, mean_db + Z_95 * sd_db

    def field_belief(self, state: S) -> tuple[Floats, Floats] | None:
        """Levels (grid,) in nominal dB, evenly apart, and their probabilities at each place,

        (exams, places, grid), where the procedure takes the field as one; None where each place
        stands alone and its own answers say all.
        """
        return None


def require_limits(limits_db: Floats) -> Floats:
    """Limits as an array of shape (exams, places); raises InputError for another shape."""
    limits = np.asarray(limits_db, float)
    if limits.ndim != 2 or 0 in limits.shape:
        raise _wrong_shape("limits_db", limits.shape, "(exams, places)")
    if not np.isfinite(limits).all():
        raise InputError("limits_db", "not a number", "finite levels in dB", "Check the limits.")
    return limits


def require_rows(exams: int, **arrays: NDArray[np.generic]) -> None:
    """Raise InputError unless each array has shape (exams,)."""
    for name, array in arrays.items():
        if np.shape(array) != (exams,):
            raise _wrong_shape(name, np.shape(array), f"({exams},), one for each exam")


def _wrong_shape(name: str, given: tuple[int, ...], allowed: str) -> InputError:
    shape = f"shape {given}".replace(",)", ")")
    return InputError(name, shape, f"shape {allowed}", "Hand in one row for each exam.")
