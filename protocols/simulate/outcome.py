"""What simulated exams leave: estimates, counts, times, and every presentation in order."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints


@dataclass(frozen=True)
class History:
    """Every presentation, each (exams, presentations), filled up with role -1 after the end.

    Roles as in `protocols.catch`; place -1 for the target on the blind spot; nominal level in
    dB, not a number for a blank; verdict codes of `protocols.simulate.watchers`; onset seconds
    after the first.
    """

    role: NDArray[np.int8]
    place: NDArray[np.int16]
    level_db: Floats
    verdict: NDArray[np.int8]
    onset_s: Floats

    @classmethod
    def empty(cls, exams: int, most: int) -> History:
        """Room for so many presentations of each exam."""
        shape = (exams, most)
        return cls(
            np.full(shape, -1, np.int8),
            np.full(shape, -1, np.int16),
            np.full(shape, np.nan),
            np.full(shape, -1, np.int8),
            np.full(shape, np.nan),
        )


@dataclass(frozen=True)
class Outcome:
    """Results of exams of one eye each; the arrays are filled as exams come to their end.

    The procedure's mean, SD and 95 % interval in nominal dB, whether finished, and presentations,
    each (exams, places); presentations, seconds from the first onset to the last window's end, and
    whether the stop rule ended it, each (exams,); catch trials that count and those answered
    wrong, (exams, 3), in the order blind spot, blank, full contrast; the procedure's belief,
    nominal levels (grid,) and probabilities (exams, places, grid), where it takes the field as
    one, else of no width.
    """

    mean_db: Floats
    sd_db: Floats
    low_db: Floats
    high_db: Floats
    finished: Bools
    place_presentations: Ints
    presentations: Ints
    seconds: Floats
    stopped: Bools
    catch_shown: Ints
    catch_wrong: Ints
    belief: tuple[Floats, Floats] = field(repr=False)
    history: History = field(repr=False)

    @classmethod
    def empty(cls, exams: int, places: int, most: int, grid_db: Floats) -> Outcome:
        """Room for the results of so many exams of at most so many presentations."""
        at_places = (exams, places)
        return cls(
            mean_db=np.full(at_places, np.nan),
            sd_db=np.full(at_places, np.nan),
            low_db=np.full(at_places, np.nan),
            high_db=np.full(at_places, np.nan),
            finished=np.zeros(at_places, np.bool_),
            place_presentations=np.zeros(at_places, np.int64),
            presentations=np.zeros(exams, np.int64),
            seconds=np.zeros(exams),
            stopped=np.zeros(exams, np.bool_),
            catch_shown=np.zeros((exams, 3), np.int64),
            catch_wrong=np.zeros((exams, 3), np.int64),
            belief=(grid_db, np.zeros((exams, places, len(grid_db)))),
            history=History.empty(exams, most),
        )
