"""How played exams are scored, and ratios of presentations with their bootstrap intervals.

Errors are counted on what a display can show: truth and estimate held to 0 dB and up, and an
interval that is open downwards takes in all that is not seen at full contrast.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from joint_play import Played

from protocols.population.draw import Population

DRAWS = 1000
EVERYONE = slice(None)
Rows = np.ndarray | slice


@dataclass(frozen=True)
class Scored:
    """square (exams,), mean over places; presentations (exams,); error_db, inside per place."""

    square: np.ndarray
    presentations: np.ndarray
    error_db: np.ndarray
    inside: np.ndarray

    def count(self, rows: Rows = EVERYONE) -> float:
        """Mean presentations at places."""
        return float(self.presentations[rows].mean())

    def rmse_db(self, rows: Rows = EVERYONE) -> float:
        return float(np.sqrt(self.square[rows].mean()))

    def on(self, rows: Rows) -> Scored:
        return Scored(*(getattr(self, field.name)[rows] for field in fields(self)))


def score(played: Played, people: Population) -> Scored:
    truth = np.maximum(people.sensitivity_db, 0.0)
    error = np.maximum(played.mean_db, 0.0) - truth
    inside = (np.maximum(played.low_db, 0.0) <= truth) & (truth <= np.maximum(played.high_db, 0.0))
    return Scored((error**2).mean(axis=1), played.presentations, error, inside)


def count_at(rmse_db: float, curve: Sequence[Scored], rows: Rows = EVERYONE) -> float:
    """Mean presentations at an RMSE, interpolated between strictnesses; nan beyond them."""
    points = sorted((scored.rmse_db(rows), scored.count(rows)) for scored in curve)
    rmses, counts = zip(*points, strict=True)
    return float(np.interp(rmse_db, rmses, counts, left=np.nan, right=np.nan))


def with_interval(ratio: Callable[[Rows], float], exams: int) -> str:
    """A ratio over all exams with its 95 % interval by resampling exams."""
    rng = np.random.default_rng(0)
    drawn = [ratio(rng.integers(exams, size=exams)) for _ in range(DRAWS)]
    low, high = np.nanpercentile(drawn, [2.5, 97.5])
    return f"{ratio(EVERYONE):.3f} [{low:.3f}, {high:.3f}]"
