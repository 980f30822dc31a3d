"""Grades 0 to 4 of a place: how far below what 99 % of people of that age see.

0 within; 1, 2, 3 under 4 dB, 4 to 8 dB, over 8 dB below the limit; 4 not seen at full contrast.
For the rising procedure the tries decide: seen at the first level is 0, never seen is 4, and in
between the range the tries leave open decides by posterior probability. For procedures that
measure thresholds the most probable grade is given, none where no grade is more likely than not.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.posterior import Posterior

DEPTH_EDGES_DB = (4.0, 8.0)
TRUSTED_FROM = 0.5


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
    near, far = (max(limit_db - edge, floor_db) for edge in DEPTH_EDGES_DB)
    return (
        posterior.probability(limit_db, float("inf")),
        posterior.probability(near, limit_db),
        posterior.probability(far, near),
        posterior.probability(floor_db, far),
        posterior.probability(float("-inf"), floor_db),
    )


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
