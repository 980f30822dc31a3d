"""Screening as a decision: within the limit of that age, or below it, by a sequential test a place.

Wald's sequential probability ratio test (Wald 1945, Ann Math Stat 16:117) between the two classes,
each weighted by the prior within it: after every answer the ratio of how likely the answers are in
either class is held against A = (1 - beta) / alpha and B = beta / (1 - alpha). Averaged over the
prior, a place within the limit is then called lost in about alpha of cases, a lost one missed in
about beta; the greatest number of answers ends a place in any case, and makes both larger.

The level shown is the one whose answer is expected to tell most about the class: the mutual
information of answer and class. The expected rise of the likelier class's probability would be
shorter-sighted: it is 0 wherever no single answer can change the verdict.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import xlogy

from protocols.field import Floats
from protocols.procedures.choosing import answers_to_come, any_open_place
from protocols.procedures.grid import Grid, GridProcedure, levels_from_faint, sensitivities
from protocols.procedures.interface import Bools, Estimate, Ints, Procedure, require_rows
from protocols.procedures.products import row_products
from protocols.procedures.rows import with_rows
from protocols.procedures.settings import DecisionSettings

LEAST_CHANCE = 1e-300


@dataclass(frozen=True)
class DecisionState:
    """Posterior (exams, places, points) with limits, the prior's share within them, answers, end;

    `verdict` is 1 within, -1 below, 0 open or never decided; each (exams, places).
    """

    mass: Floats
    limits_db: Floats
    prior_within: Floats
    answers: Ints
    verdict: Ints
    done: Bools


class Decision(Procedure[DecisionState]):
    """The procedure; see `interface.Procedure` for what each method takes and gives."""

    def __init__(self, settings: DecisionSettings) -> None:
        self._settings = settings
        points = sensitivities(settings.grid_step_db)
        self.grid = Grid(
            levels_from_faint(settings.grid_step_db),
            points,
            np.full(points.shape, settings.spread_db),
            (settings.false_press_rate, settings.lapse_rate),
            "gaussian",
        )
        self._shared = GridProcedure(settings, self.grid)
        self._chances = np.ascontiguousarray(self.grid.chances.T)
        alpha, beta = settings.false_loss_rate, settings.missed_loss_rate
        self._bounds = (np.log(alpha / (1 - beta)), np.log((1 - alpha) / beta))

    def start(self, limits_db: Floats) -> DecisionState:
        """Every place at its prior."""
        fresh = self._shared.start(limits_db)
        limits = np.asarray(limits_db, float)
        within = (fresh.mass * self._within(limits)).sum(axis=-1)
        none = np.zeros(limits.shape, np.int64)
        return DecisionState(fresh.mass, limits, within, none, none, fresh.done)

    def finished(self, state: DecisionState) -> Bools:
        """Decided, or asked as often as allowed."""
        return state.done

    def left(self, state: DecisionState) -> Ints:
        """At least one answer at each open place, and the protocol's least number."""
        return answers_to_come(self._settings.least, state.answers, state.done)

    def propose(self, state: DecisionState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """Any open place but the last one shown, at the level that tells most of its class."""
        require_rows(len(state.done), u=u, last_place=last_place)
        place = any_open_place(state.done, u, last_place)
        at = (np.arange(len(place)), place)
        told = self.class_information(state.mass[at], state.limits_db[at])
        return place, self.grid.levels_db.take(told.argmax(axis=-1))

    def update(
        self, state: DecisionState, place: Ints, level_db: Floats, seen: Bools
    ) -> DecisionState:
        """Bayes' rule at the place asked, then the sequential test."""
        require_rows(len(state.done), place=place, level_db=level_db, seen=seen)
        row = np.flatnonzero(place >= 0)
        at = (row, place[row])
        mass = state.mass[at] * self.grid.likelihood(level_db[row], seen[row])
        mass /= mass.sum(axis=-1, keepdims=True)
        answers = state.answers[at] + 1
        verdict = np.where(state.done[at], state.verdict[at], self._verdict(state, at, mass))
        enough = answers >= self._settings.least
        verdict = np.where(enough | state.done[at], verdict, 0)
        done = state.done[at] | (verdict != 0) | (answers >= self._settings.most)
        told = DecisionState(
            mass, state.limits_db[at], state.prior_within[at], answers, verdict, done
        )
        return with_rows(state, at, told)

    def estimate(self, state: DecisionState) -> Estimate:
        """Posterior mean and SD; wide, for the test asks about the class and not the threshold."""
        return Estimate(*self.grid.moments(state.mass), state.done)

    def class_information(self, mass: Floats, limits_db: Floats) -> Floats:
        """Nats that each level's answer is expected to tell of the class, (exams, levels).

        `mass` has shape (exams, points), `limits_db` (exams,).
        """
        inside = mass * self._within(limits_db)
        seen_in, seen_out = (
            row_products(part, self._chances) for part in (inside, mass - inside)
        )
        within = inside.sum(axis=-1, keepdims=True)
        parts = (
            (seen_in, within),
            (within - seen_in, within),
            (seen_out, 1 - within),
            (1 - within - seen_out, 1 - within),
        )
        seen = seen_in + seen_out
        answer = (seen, 1 - seen, seen, 1 - seen)
        told = np.zeros(seen.shape)
        for (both, of_class), of_answer in zip(parts, answer, strict=True):
            share = both / np.maximum(of_class * of_answer, LEAST_CHANCE)
            told += xlogy(np.maximum(both, 0.0), np.maximum(share, LEAST_CHANCE))
        return told

    def _within(self, limits_db: Floats) -> Floats:
        """Share of each point's cell that lies within the limit, (..., points)."""
        step = self._settings.grid_step_db
        above = self.grid.sensitivity_db - limits_db[..., None]
        return np.asarray(np.clip(above / step + 0.5, 0.0, 1.0))

    def _verdict(self, state: DecisionState, at: tuple[Ints, Ints], mass: Floats) -> Ints:
        within = (mass * self._within(state.limits_db[at])).sum(axis=-1)
        before = state.prior_within[at]
        log_ratio = _log_odds(within) - _log_odds(before)
        lost, kept = self._bounds
        return np.asarray(np.where(log_ratio >= kept, 1, np.where(log_ratio <= lost, -1, 0)))


def _log_odds(share: Floats) -> Floats:
    safe = np.clip(share, LEAST_CHANCE, 1 - 1e-15)
    return np.asarray(np.log(safe) - np.log1p(-safe))
