"""What an exam says of each place of an eye, as levels and posteriors that can be compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.field_posterior import field_posteriors
from analysis.load import ExamRecord
from analysis.places import floor_db
from analysis.posterior import Posterior, place_posterior
from analysis.reference import Reference, mean_db
from analysis.result import EyeResult
from analysis.told import told_again
from protocols.field import Eye, Floats, Place


@dataclass(frozen=True)
class EyeLevels:
    """One eye of one exam. Places as the eye has them; level_db (places,) is not a number where

    a place was not finished; `open_ended` says where a level is only a bound.
    """

    eye: Eye
    places: tuple[Place, ...]
    level_db: Floats
    posteriors: tuple[Posterior, ...]
    open_ended: tuple[bool, ...]

    @property
    def mean_db(self) -> float:
        """Mean level of the finished places; not a number without any."""
        known = self.level_db[np.isfinite(self.level_db)]
        return float(known.mean()) if len(known) else float("nan")


def eye_levels(
    exam: ExamRecord, eye: Eye, found: EyeResult, reference: Reference
) -> EyeLevels:
    """Levels of an eye: the result's own estimates, with the posteriors behind them."""
    places = exam.protocol.pattern.for_eye(eye)
    means = mean_db(reference, places, exam.opened.age_years, eye)
    by_index = {trial.shown.index: trial for trial in exam.of_eye(eye)}
    posteriors = field_posteriors(exam, told_again(exam, eye)) or [
        place_posterior(
            [by_index[answer.index] for answer in place.answers],
            float(means[place.number]),
            reference.file.spread_db,
            floor_db(exam),
        )
        for place in found.places
    ]
    levels = [np.nan if p.estimate_db is None else p.estimate_db for p in found.places]
    bounds = tuple(place.bound in ("at least", "at most") for place in found.places)
    return EyeLevels(eye, places, np.array(levels, float), tuple(posteriors), bounds)


@dataclass(frozen=True)
class Difference:
    """A difference of two levels, dB: estimate, 95 % interval, two-sided probability of 0."""

    difference_db: float
    interval_db: tuple[float, float]
    p: float


def posterior_difference(first: Posterior, second: Posterior, estimate_db: float) -> Difference:
    """Second less first, their answers being independent; posteriors on grids of the same step."""
    mass = np.asarray(np.convolve(second.mass, first.mass[::-1]), np.float64)
    start = float(second.levels_db[0] - first.levels_db[-1])
    step_db = float(second.levels_db[1] - second.levels_db[0])
    levels = np.asarray(start + step_db * np.arange(len(mass)), np.float64)
    low, high = Posterior(levels, mass).interval_db()
    above = float(mass[levels > step_db / 2].sum())
    below = float(mass[levels < -step_db / 2].sum())
    tie = max(1.0 - above - below, 0.0)
    p = min(1.0, 2 * (min(above, below) + tie / 2))
    return Difference(
        round(estimate_db, 4), (round(low + 0.0, 4), round(high + 0.0, 4)), round(p, 6)
    )
