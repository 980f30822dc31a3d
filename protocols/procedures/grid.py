"""Posteriors on a grid: what the procedures that learn by Bayes' rule share.

A grid is a list of points, each with a sensitivity (and, for two-parameter procedures, a slope or
lapse rate), and a list of levels that can be shown. Sensitivities below full contrast are on the
grid too, so that a place that sees nothing has somewhere to go; in means and SDs they count as
full contrast, for nothing stronger can be shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from protocols.field import Floats
from protocols.procedures.choosing import answers_to_come, any_open_place
from protocols.procedures.interface import (
    Bools,
    Estimate,
    Ints,
    Procedure,
    require_limits,
    require_rows,
)
from protocols.procedures.psychometric import Shape, seeing_probability
from protocols.procedures.range import FULL_DB, UPPER_DB
from protocols.procedures.rows import with_rows
from protocols.procedures.settings import GridSettings

BELOW_FULL_DB = 6.0
"""How far the grid of sensitivities goes beyond full contrast."""


@dataclass(frozen=True)
class GridState:
    """Posterior (exams, places, points); answers, mean, SD and end, each (exams, places)."""

    mass: Floats
    answers: Ints
    mean_db: Floats
    sd_db: Floats
    done: Bools


@dataclass(frozen=True)
class Grid:
    """Points (k,) with their parameters, levels (n,) from faint to full, and who sees what.

    `rates` holds false presses and lapses, each (k,) or a number.
    """

    levels_db: Floats
    sensitivity_db: Floats
    slope: Floats
    rates: tuple[Floats | float, Floats | float]
    shape: Shape

    @cached_property
    def felt_db(self) -> Floats:
        """Sensitivities as means count them, not below full contrast, (k,)."""
        return np.maximum(self.sensitivity_db, FULL_DB)

    @cached_property
    def alone_db(self) -> Floats:
        """Each sensitivity once, from the largest on; points with the same one stand together."""
        return np.unique(self.sensitivity_db)[::-1]

    @cached_property
    def chances(self) -> Floats:
        """Chance of a press at each level for each point, (n, k)."""
        return self.chance_at(self.levels_db)

    @cached_property
    def likelihoods(self) -> Floats:
        """Likelihood of each answer to each level: n rows of not seen, then n of seen, (2n, k)."""
        return np.concatenate([1 - self.chances, self.chances])

    def moments(self, mass: Floats) -> tuple[Floats, Floats]:
        """Mean and SD of posteriors (..., k); what lies below full contrast counts as there."""
        mean_db = (mass * self.felt_db).sum(axis=-1)
        variance = (mass * (self.felt_db - mean_db[..., None]) ** 2).sum(axis=-1)
        return mean_db, np.sqrt(variance)

    def chance_at(self, level_db: Floats) -> Floats:
        """Chance of a press at any level, shape (levels, k)."""
        return seeing_probability(
            level_db[:, None], self.sensitivity_db, self.slope, *self.rates, self.shape
        )

    def likelihood(self, level_db: Floats, seen: Bools) -> Floats:
        """Likelihood of answers at points, (exams, k); levels off the grid are computed anew."""
        top, step = self.levels_db[0], self.levels_db[0] - self.levels_db[1]
        nearest = np.rint((top - level_db) / step).astype(np.int64)
        count = len(self.levels_db)
        if (self.levels_db.take(nearest, mode="clip") == level_db).all():
            return np.asarray(self.likelihoods.take(nearest + count * seen, axis=0))
        chance = self.chance_at(level_db)
        return np.where(seen[:, None], chance, 1 - chance)


def levels_from_faint(step_db: float) -> Floats:
    """Levels that can be shown, from the faintest to full contrast. dB, shape (n,)."""
    return np.asarray(np.arange(FULL_DB, UPPER_DB + step_db / 2, step_db)[::-1].copy())


def sensitivities(step_db: float) -> Floats:
    """Sensitivities of a grid, from the faintest level down to beyond full contrast.

    dB, shape (n,).
    """
    below = np.arange(1, round(BELOW_FULL_DB / step_db) + 1) * step_db
    return np.concatenate([levels_from_faint(step_db), FULL_DB - below])


class GridProcedure(Procedure[GridState]):
    """A procedure with a posterior on a grid for each place; children choose the level."""

    def __init__(self, settings: GridSettings, grid: Grid) -> None:
        self._settings = settings
        self.grid = grid

    def levels_for(self, mass: Floats, mean_db: Floats) -> Ints:
        """Number of the level to show, (exams,), given a posterior (exams, points) and its mean."""
        raise NotImplementedError

    def start(self, limits_db: Floats) -> GridState:
        """Every place at its prior: normal around healthy people of that age, over a floor."""
        limits = require_limits(limits_db)
        mass = self._prior(limits + self._settings.prior_above_limit_db)
        mean_db, sd_db = self.grid.moments(mass)
        none = np.zeros(limits.shape, np.int64)
        return GridState(mass, none, mean_db, sd_db, np.zeros(limits.shape, np.bool_))

    def finished(self, state: GridState) -> Bools:
        """Narrow enough after the least number of answers, or asked as often as allowed."""
        return state.done

    def propose(self, state: GridState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Any unfinished place but the last one shown, at the level that tells most."""
        require_rows(len(state.done), u=u, last_place=last_place)
        place = any_open_place(state.done, u, last_place)
        row = np.arange(len(place))
        number = self.levels_for(state.mass[row, place], state.mean_db[row, place])
        return place, self.grid.levels_db.take(number)

    def update(self, state: GridState, place: Ints, level_db: Floats, seen: Bools) -> GridState:
        """Bayes' rule at the place asked."""
        require_rows(len(state.done), place=place, level_db=level_db, seen=seen)
        row = np.flatnonzero(place >= 0)
        at = (row, place[row])
        mass = state.mass[at] * self.grid.likelihood(level_db[row], seen[row])
        mass /= mass.sum(axis=-1, keepdims=True)
        mean_db, sd_db = self.grid.moments(mass)
        answers = state.answers[at] + 1
        done = state.done[at] | self._ends(answers, sd_db)
        return with_rows(state, at, GridState(mass, answers, mean_db, sd_db, done))

    def estimate(self, state: GridState) -> Estimate:
        """Posterior mean and SD of sensitivity, what lies below full contrast counted as there."""
        return Estimate(state.mean_db, state.sd_db, state.done)

    def left(self, state: GridState) -> Ints:
        """At least the protocol's least number at each place, at least one where not finished."""
        return answers_to_come(self._settings.least, state.answers, state.done)

    def interval_db(self, state: GridState) -> tuple[Floats, Floats]:
        """Central 95 % interval of the posterior, the mass of a point spread evenly around it."""
        values = self.grid.alone_db[::-1]
        alone = state.mass.reshape(*state.mass.shape[:-1], len(values), -1).sum(axis=-1)
        cumulative = alone[..., ::-1].cumsum(axis=-1)
        half = self._settings.grid_step_db / 2
        low, high = (_quantile(values, cumulative, share, half) for share in (0.025, 0.975))
        return low, high

    def with_prior(self, state: GridState, mass: Floats) -> GridState:
        """A fresh state with other priors, shape (exams, places, points), each summing to 1."""
        mean_db, sd_db = self.grid.moments(mass)
        return replace(state, mass=mass, mean_db=mean_db, sd_db=sd_db)

    def _ends(self, answers: Ints, sd_db: Floats) -> Bools:
        rule = self._settings
        narrow = (answers >= rule.least) & (sd_db <= rule.end_sd_db)
        return np.asarray(narrow | (answers >= rule.most))

    def _prior(self, centre_db: Floats) -> Floats:
        z = (self.grid.sensitivity_db - centre_db[..., None]) / self._settings.prior_sd_db
        log_bell = -0.5 * z**2
        bell = np.exp(log_bell - log_bell.max(axis=-1, keepdims=True))
        bell /= bell.sum(axis=-1, keepdims=True)
        floor = self._settings.prior_floor
        return np.asarray((1 - floor) * bell + floor / bell.shape[-1])


def _quantile(values: Floats, cumulative: Floats, share: float, half: float) -> Floats:
    """Value below which a share of the mass lies, linear within the step around each point."""
    number = (cumulative < share).sum(axis=-1).clip(max=len(values) - 1)
    upto = np.take_along_axis(cumulative, number[..., None], axis=-1)[..., 0]
    before = np.where(
        number > 0,
        np.take_along_axis(cumulative, np.maximum(number - 1, 0)[..., None], axis=-1)[..., 0],
        0.0,
    )
    inside = (share - before) / np.maximum(upto - before, np.finfo(float).tiny)
    found = values.take(number) + (2 * np.minimum(inside, 1.0) - 1) * half
    return np.asarray(np.clip(found, FULL_DB, UPPER_DB))
