"""Threshold together with slope or lapse rate, each level by least expected entropy.

The method is QUEST+ (Watson 2017, J Vision 17(3):10) with yes/no answers: a posterior over pairs
of parameters for each place, and the level whose answer is expected to leave the least entropy.
"""

from __future__ import annotations

import numpy as np

from protocols.field import Floats
from protocols.procedures.grid import (
    Grid,
    GridProcedure,
    GridState,
    levels_from_faint,
    sensitivities,
)
from protocols.procedures.information import Information
from protocols.procedures.interface import Ints
from protocols.procedures.settings import QuestPlusSettings


class QuestPlus(GridProcedure):
    """The procedure; see `interface.Procedure` for what each method takes and gives.

    Points run over the second parameter within each sensitivity. Another `grid` takes the place
    of the one the settings describe.
    """

    def __init__(self, settings: QuestPlusSettings, grid: Grid | None = None) -> None:
        grid = grid or _grid(settings)
        super().__init__(settings, grid)
        self.second_values: Floats = np.asarray(settings.second_values, float)
        self._information = Information(grid.chances)

    def levels_for(self, mass: Floats, mean_db: Floats) -> Ints:
        """Number of the level of least expected entropy.

        Mass (exams, grid), means and numbers (exams,).
        """
        return self._information.best(mass)

    def second(self, state: GridState) -> tuple[Floats, Floats]:
        """Posterior mean and SD of slope or lapse rate, each (exams, places)."""
        values = self.second_values
        pairs = state.mass.reshape(*state.mass.shape[:-1], -1, len(values))
        weights = pairs.sum(axis=-2)
        mean = (weights * values).sum(axis=-1)
        variance = (weights * (values - mean[..., None]) ** 2).sum(axis=-1)
        return mean, np.sqrt(variance)


def _grid(settings: QuestPlusSettings) -> Grid:
    second = np.asarray(settings.second_values, float)
    alone = sensitivities(settings.grid_step_db)
    sensitivity, varied = np.repeat(alone, len(second)), np.tile(second, len(alone))
    fixed = np.full(varied.shape, settings.slope)
    by_slope = settings.second == "slope"
    return Grid(
        levels_from_faint(settings.grid_step_db),
        sensitivity,
        varied if by_slope else fixed,
        (settings.false_press_rate, settings.lapse_rate if by_slope else varied),
        settings.curve,
    )
