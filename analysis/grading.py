"""Grades 0 to 4 of a place: how far below what 99 % of people of that age see.

0 within; 1, 2, 3 under 4 dB, 4 to 8 dB, over 8 dB below the limit; 4 not seen at full contrast.
For the rising procedure the tries decide: seen at the first level is 0, never seen is 4, and in
between the range the tries leave open decides by posterior probability. For procedures that
measure thresholds the most probable grade is given, none where no grade is more likely than not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.posterior import Posterior
from protocols.field import Floats
from protocols.procedures.interface import Ints

DEPTH_EDGES_DB = (4.0, 8.0)
TRUSTED_FROM = 0.5
SAME_DB = 1e-9
"""Levels this near each other are the same."""


@dataclass(frozen=True)
class Grade:
    """A grade (None: cannot tell) with the probability of each of the five."""

    grade: int | None
    probabilities: tuple[float, float, float, float, float]

    @property
    def probability(self) -> float | None:
        """Probability that the true value lies in the grade given."""
        return None if self.grade is None else self.probabilities[self.grade]

    @property
    def trusted(self) -> bool:
        """Whether the grade given is more likely than not."""
        return self.probability is not None and self.probability >= TRUSTED_FROM


def grade_probabilities(
    posterior: Posterior, limit_db: float, floor_db: float
) -> tuple[float, float, float, float, float]:
    """Probability of each grade 0..4, by where the posterior lies."""
    within, near, far, floor = (float(end) for end in lower_ends_db(limit_db, floor_db))
    return (
        posterior.probability(within, float("inf")),
        posterior.probability(near, within),
        posterior.probability(far, near),
        posterior.probability(floor, far),
        posterior.probability(float("-inf"), floor),
    )


def lower_ends_db(limit_db: Floats | float, floor_db: float) -> tuple[Floats, ...]:
    """Where grades 0 to 3 end below, each itself within the grade, in the shape of the limits.

    A depth of just 4 or just 8 dB is grade 2. A limit that lies below full contrast leaves no room
    for grades 1 to 3: what lies below it is grade 4.
    """
    limit = np.asarray(limit_db, float)
    to_near, to_far = DEPTH_EDGES_DB
    within = limit - SAME_DB
    ends = (limit - to_near + SAME_DB, limit - to_far - SAME_DB, np.full_like(limit, -np.inf))
    return within, *(np.minimum(np.maximum(end, floor_db), within) for end in ends)


def true_grades(sensitivity_db: Floats, limit_db: Floats | float, floor_db: float) -> Ints:
    """Grades of known sensitivities, in their shape; delivered dB.

    >>> true_grades(np.array([20.0, 17.0, 13.0, 9.0, 1.0]), 18.0, 1.6).tolist()
    [0, 1, 2, 3, 4]
    """
    below = [sensitivity_db < end for end in lower_ends_db(limit_db, floor_db)]
    return np.asarray(np.sum(below, axis=0))


def grade_by_tries(
    posterior: Posterior, limit_db: float, floor_db: float, tries: int, seen: bool, finished: bool
) -> Grade:
    """Grade of a place under the rising procedure."""
    odds = grade_probabilities(posterior, limit_db, floor_db)
    if not finished:
        return Grade(None, odds)
    if not seen:
        return Grade(4, odds)
    if tries == 1:
        return Grade(0, odds)
    return Grade(max((1, 2, 3), key=lambda grade: odds[grade]), odds)


def most_probable_grade(
    posterior: Posterior, limit_db: float, floor_db: float, finished: bool
) -> Grade:
    """Grade of a place whose threshold was measured; None if unfinished or none can be trusted."""
    odds = grade_probabilities(posterior, limit_db, floor_db)
    best = max(range(5), key=lambda grade: odds[grade])
    return Grade(best if finished and odds[best] >= TRUSTED_FROM else None, odds)
