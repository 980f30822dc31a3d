"""Threshold of each place by Bayes' rule, each place by itself.

The level shown is the posterior's mean (King-Smith et al. 1994, Vision Res 34:885) or mode (Watson
& Pelli 1983, Percept Psychophys 33:113), or the one whose answer is expected to leave the least
entropy or variance. A uniform floor under the prior keeps a wrong one from trapping a place.
"""

from __future__ import annotations

import numpy as np

from protocols.field import Floats
from protocols.procedures.grid import Grid, GridProcedure, levels_from_faint, sensitivities
from protocols.procedures.information import Information
from protocols.procedures.interface import Ints
from protocols.procedures.products import row_products
from protocols.procedures.settings import BayesSettings


class Bayes(GridProcedure):
    """The procedure; see `interface.Procedure` for what each method takes and gives."""

    def __init__(self, settings: BayesSettings) -> None:
        sensitivity = sensitivities(settings.grid_step_db)
        grid = Grid(
            levels_from_faint(settings.grid_step_db),
            sensitivity,
            np.full(sensitivity.shape, settings.spread_db),
            (settings.false_press_rate, settings.lapse_rate),
            "gaussian",
        )
        super().__init__(settings, grid)
        self._placement = settings.placement
        self._information = Information(grid.chances)
        felt = grid.chances * grid.felt_db
        self._seen_moments = np.concatenate([grid.chances, felt]).T.copy()

    def levels_for(self, mass: Floats, mean_db: Floats) -> Ints:
        """Number of the level by the placement the protocol names.

        Mass (exams, grid), means (exams,), numbers (exams,).
        """
        if self._placement == "entropy":
            return self._information.best(mass)
        if self._placement == "variance":
            return self._least_variance(mass, mean_db)
        if self._placement == "mode":
            return self._nearest(self.grid.felt_db.take(mass.argmax(axis=-1)))
        return self._nearest(mean_db)

    def _nearest(self, level_db: Floats) -> Ints:
        levels = self.grid.levels_db
        steps = (levels[0] - level_db) / (levels[0] - levels[1])
        return np.asarray(np.rint(steps), np.int64)

    def _least_variance(self, mass: Floats, mean_db: Floats) -> Ints:
        """The expected variance is the second moment, fixed, less this: the spread of means."""
        count = len(self.grid.levels_db)
        moments = row_products(mass, self._seen_moments)
        seen, seen_sum = moments[:, :count], moments[:, count:]
        unseen_sum = mean_db[:, None] - seen_sum
        spread = seen_sum**2 / seen + unseen_sum**2 / (1 - seen)
        return np.asarray(spread.argmax(axis=-1), np.int64)
