"""The joint procedure: prior, answers, matching, placement and ending behind the interface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from protocols.field import Floats, Place
from protocols.procedures.interface import (
    Bools,
    Estimate,
    Ints,
    Procedure,
    require_limits,
    require_rows,
)
from protocols.procedures.joint import answers as heard_so_far
from protocols.procedures.joint import attention
from protocols.procedures.joint.answers import Answers
from protocols.procedures.joint.ending import OPEN, StopReason, stop_reasons, why_enough
from protocols.procedures.joint.hypotheses import all_hypotheses
from protocols.procedures.joint.marginals import interval_db, marginals, moments, weights
from protocols.procedures.joint.matching import Smooth, matched
from protocols.procedures.joint.placement import Prospect, Seconds, next_place, prospects
from protocols.procedures.joint.scale import GRID_DB
from protocols.procedures.joint.settings import JointSettings
from protocols.procedures.rows import rows_of, with_rows

LIMIT_SHARE = 0.01
"""Share of healthy people below the limits an exam starts from."""


@dataclass(frozen=True)
class JointState:
    """What was heard and what follows from it; every array has the exam as its leading axis.

    shares (exams, kinds) of attention; mass (exams, places, grid), mean_db and variance
    (exams, places) of each place's sensitivity; wary_variance the same with every place held
    suspect of a loss of its own, which is what asking goes by. enough (exams, places) codes why a
    place needs no more, as in `ending`, 0 while it is open.
    """

    limits_db: Floats
    shares: Floats
    answers: Answers
    smooth: Smooth
    mass: Floats
    mean_db: Floats
    variance: Floats
    wary_variance: Floats
    prospect: Prospect
    enough: Ints


class Joint(Procedure[JointState]):
    """The procedure; see `interface.Procedure`. `places` are those of the pattern, right eye.

    A left eye's places are their mirror images in the same order, so one procedure serves both.
    """

    def __init__(self, settings: JointSettings, places: Sequence[Place]) -> None:
        self._settings = settings
        self._prior = all_hypotheses(places, settings.reference_spread_db)
        self._time = Seconds(settings.seen_s, settings.unseen_s)
        self._extra = np.stack([h.extra for h in self._prior])

    @property
    def hypotheses(self) -> tuple[str, ...]:
        """Names of the hypotheses, in the order of `hypothesis_chances`."""
        return tuple(h.name for h in self._prior)

    def start(self, limits_db: Floats) -> JointState:
        """Everything as the prior has it; limits (exams, places) are what 99 % of people see."""
        limits = require_limits(limits_db)
        exams, places = limits.shape
        answers = heard_so_far.fresh(exams, places)
        smooth, enough = self._prior_smooth(limits), np.zeros(limits.shape, np.int64)
        return self._read(limits, attention.fresh(exams), answers, smooth, enough)

    def finished(self, state: JointState) -> Bools:
        """Places that were sure enough once, or were asked as often as allowed."""
        return np.asarray(state.enough != OPEN)

    def left(self, state: JointState) -> Ints:
        """One for each place not looked at yet, and one while any is open.

        Not one for each open place: an answer elsewhere may settle several at once.
        """
        unlooked = (state.answers.looks == 0).sum(axis=-1)
        return np.asarray(np.maximum(unlooked, (state.enough == OPEN).any(axis=-1)), np.int64)

    def propose(self, state: JointState, u: Floats, last_place: Ints) -> tuple[Ints, Floats]:
        """The open place and the level that promise most a second."""
        require_rows(len(state.shares), u=u, last_place=last_place)
        open_places = ~self.finished(state)
        choosable = np.where(open_places.any(axis=-1, keepdims=True), open_places, True)
        place = next_place(state.prospect, choosable, u, last_place)
        return place, state.prospect.level_db[np.arange(len(place)), place]

    def update(self, state: JointState, place: Ints, level_db: Floats, seen: Bools) -> JointState:
        """Keep the answer, match its place anew, and read all places off again."""
        require_rows(len(state.shares), place=place, level_db=level_db, seen=seen)
        if (place >= 0).all():
            return self._answered(state, place, level_db, seen)
        rows = np.flatnonzero(place >= 0)
        told = self._answered(rows_of(state, rows), place[rows], level_db[rows], seen[rows])
        return with_rows(state, rows, told)

    def heed(self, state: JointState, role: Ints, seen: Bools) -> JointState:
        """State after a catch trial: its answer tells what kind of attention this is.

        All answers are weighed anew; where the catch trial was answered wrongly, all places are
        matched anew from the prior, so that earlier answers lose the trust they no longer have, and
        places that ended on them may be open again. Arguments of shape (exams,); raises InputError
        for others.
        """
        require_rows(len(state.shares), role=role, seen=seen)
        rows = np.flatnonzero(attention.tells(role))
        if not len(rows):
            return state
        return with_rows(state, rows, self._caught(rows_of(state, rows), role[rows], seen[rows]))

    def estimate(self, state: JointState) -> Estimate:
        """Mean and SD of each place; all below full contrast counts as one grid step below it."""
        return Estimate(state.mean_db, np.sqrt(state.variance), self.finished(state))

    def interval_db(self, state: JointState, share: float = 0.95) -> tuple[Floats, Floats]:
        """Central interval of each place, open downwards where it passes full contrast."""
        return interval_db(state.mass, share)

    def field_belief(self, state: JointState) -> tuple[Floats, Floats]:
        """The grid and each place's probabilities on it."""
        return GRID_DB, state.mass

    def hypothesis_chances(self, state: JointState) -> Floats:
        """Probability of each hypothesis, (exams, hypotheses)."""
        return weights(state.smooth)

    def stop_reason(self, state: JointState) -> list[StopReason]:
        """Why each exam ended, or "open"."""
        return stop_reasons(state.enough)

    def _prior_smooth(self, limits: Floats) -> Smooth:
        exams = len(limits)
        healthy = limits - float(ndtri(LIMIT_SHARE)) * self._settings.reference_spread_db
        mean = healthy[:, None, :] + np.stack([h.shift_db for h in self._prior])
        covariance = np.stack([h.covariance for h in self._prior])
        chances = np.log([h.chance for h in self._prior])
        none = np.zeros_like(mean)
        return Smooth(
            mean, np.tile(covariance, (exams, 1, 1, 1)), none, none, np.tile(chances, (exams, 1))
        )

    def _answered(
        self, state: JointState, place: Ints, level_db: Floats, seen: Bools
    ) -> JointState:
        answers = heard_so_far.heard(state.answers, state.shares, place, level_db, seen)
        before = self._likelihood(state.answers, place)
        smooth = matched(state.smooth, place, before, self._likelihood(answers, place))
        return self._read(state.limits_db, state.shares, answers, smooth, state.enough)

    def _caught(self, state: JointState, role: Ints, seen: Bools) -> JointState:
        shares = attention.after_catch(state.shares, role, seen)
        answers = heard_so_far.reweighed(state.answers, shares)
        smooth, enough = state.smooth, state.enough.copy()
        wrong = np.flatnonzero(attention.was_wrong(role, seen))
        if len(wrong):
            anew = self._matched_anew(state.limits_db[wrong], rows_of(answers, wrong))
            smooth = with_rows(smooth, wrong, anew)
            enough[wrong] = OPEN
        return self._read(state.limits_db, shares, answers, smooth, enough)

    def _matched_anew(self, limits: Floats, answers: Answers) -> Smooth:
        smooth = self._prior_smooth(limits)
        flat = np.ones((len(limits), len(self._prior), answers.plain.shape[-1]))
        for number in range(limits.shape[1]):
            place = np.full(len(limits), number)
            smooth = matched(smooth, place, flat, self._likelihood(answers, place))
        return smooth

    def _likelihood(self, answers: Answers, place: Ints) -> Floats:
        """Of the smooth part at a place, (exams, hypotheses, grid)."""
        row = np.arange(len(place))
        chance = self._extra.T[place][..., None]
        plain, extra = answers.plain[row, place], answers.extra[row, place]
        return np.asarray((1 - chance) * plain[:, None] + chance * extra[:, None])

    def _read(
        self, limits: Floats, shares: Floats, answers: Answers, smooth: Smooth, enough: Ints
    ) -> JointState:
        """The state with every place read off the mixture."""
        mass, wary = marginals(smooth, answers, self._extra)
        mean, variance = moments(mass)
        wary_mean, wary_variance = moments(wary)
        prospect = prospects(mass, mean, wary, wary_mean, self._time)
        why = why_enough(np.sqrt(wary_variance), mass, limits, answers.looks, self._settings)
        return JointState(
            limits_db=limits,
            shares=shares,
            answers=answers,
            smooth=smooth,
            mass=mass,
            mean_db=mean,
            variance=variance,
            wary_variance=wary_variance,
            prospect=prospect,
            enough=np.where(enough != OPEN, enough, why),
        )
