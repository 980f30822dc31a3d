"""Each place's posterior where the procedure takes the field as one: the procedure's own.

Such a procedure believes on a coarse grid of nominal dB. Here each grid value stands for the cell
about it, spread evenly over fine steps, and shifted to delivered dB by the display's loss.
"""

from __future__ import annotations

import numpy as np

from analysis.load import ExamRecord
from analysis.posterior import STEP_DB, Posterior
from analysis.told import Told
from protocols.field import Floats


def field_posteriors(exam: ExamRecord, told: Told) -> list[Posterior] | None:
    """A posterior of each place in delivered contrast dB; None where places stand alone."""
    belief = told.procedure.field_belief(told.state)
    if belief is None:
        return None
    levels_db, mass = spread_fine(belief[0], belief[1][0])
    delivered_db = levels_db - 20 * np.log10(exam.opened.delivery)
    return [Posterior(delivered_db, of_place) for of_place in mass]


def spread_fine(levels_db: Floats, mass: Floats) -> tuple[Floats, Floats]:
    """Fine levels (n,) and probabilities (..., n) of coarse ones evenly apart, (k,) and (..., k).

    >>> levels, mass = spread_fine(np.array([0.0, 0.2]), np.array([0.5, 0.5]))
    >>> levels.round(3).tolist(), mass.tolist()
    ([-0.05, 0.05, 0.15, 0.25], [0.25, 0.25, 0.25, 0.25])
    """
    cell_db = float(levels_db[1] - levels_db[0])
    steps = max(1, round(cell_db / STEP_DB))
    within = (np.arange(steps) + 0.5) / steps - 0.5
    fine = (levels_db[:, None] + cell_db * within).ravel()
    return np.asarray(fine), np.asarray(np.repeat(mass, steps, axis=-1) / steps)
