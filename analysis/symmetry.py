"""Between-eye asymmetry: each place of the right eye against its mirror image in the left.

A pair's interval and probability come from the two posteriors. The whole field is tested by
flipping the signs of the pairs' differences; places that stand out are told with false-discovery
control (Benjamini & Hochberg 1995, J R Stat Soc B 57:289). It says whether the eyes answered
differently today, not whether that is rare among healthy people.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from scipy.stats import false_discovery_control
from scipy.stats import t as student_t

from analysis.compare_levels import EyeLevels, posterior_difference
from analysis.flips import FlipTest, sign_flip
from protocols.errors import InputError
from protocols.field import Floats

DISCOVERY_RATE = 0.05
NEAR_DEG = 0.1


@dataclass(frozen=True)
class Pair:
    """One mirrored pair, placed as in the right eye: left less right, dB."""

    number: int
    x_deg: float
    y_deg: float
    right_db: float
    left_db: float
    difference_db: float
    interval_db: tuple[float, float]
    p: float
    p_adjusted: float
    open_ended: bool

    @property
    def stands_out(self) -> bool:
        """Whether the pair differs, one in twenty such finds being false."""
        return self.p_adjusted <= DISCOVERY_RATE


@dataclass(frozen=True)
class Asymmetry:
    """All finished pairs; mean difference (left less right) with its interval over pairs, dB."""

    pairs: tuple[Pair, ...]
    mean_db: float
    interval_db: tuple[float, float]
    test: FlipTest


def asymmetry(right: EyeLevels, left: EyeLevels) -> Asymmetry | None:
    """Left less right over mirrored pairs finished in both; None with fewer than two.

    Raises InputError where the places of the two eyes are not mirror images.
    """
    _require_mirrored(right, left)
    both = np.flatnonzero(np.isfinite(right.level_db) & np.isfinite(left.level_db))
    if len(both) < 2:
        return None
    pairs = adjusted([_pair(right, left, int(number)) for number in both])
    differences = np.array([pair.difference_db for pair in pairs])
    mean, interval = mean_interval(differences)
    return Asymmetry(tuple(pairs), mean, interval, sign_flip(differences))


def _require_mirrored(right: EyeLevels, left: EyeLevels) -> None:
    same = len(right.places) == len(left.places) and all(
        np.hypot(a.x_deg + b.x_deg, a.y_deg - b.y_deg) <= NEAR_DEG
        for a, b in zip(right.places, left.places, strict=True)
    )
    if not same:
        raise InputError(
            "pattern", "places that are not mirror images", "one pattern for both eyes",
            "Compare eyes that were tested at the same places.",
        )  # fmt: skip


def _pair(right: EyeLevels, left: EyeLevels, number: int) -> Pair:
    place = right.places[number]
    right_db, left_db = float(right.level_db[number]), float(left.level_db[number])
    found = posterior_difference(
        right.posteriors[number], left.posteriors[number], left_db - right_db
    )
    return Pair(
        number=number,
        x_deg=round(place.x_deg, 6),
        y_deg=round(place.y_deg, 6),
        right_db=right_db,
        left_db=left_db,
        difference_db=found.difference_db,
        interval_db=found.interval_db,
        p=found.p,
        p_adjusted=1.0,
        open_ended=right.open_ended[number] or left.open_ended[number],
    )


def adjusted(pairs: list[Pair]) -> list[Pair]:
    """Pairs with their probabilities adjusted for false discoveries."""
    corrected = false_discovery_control([pair.p for pair in pairs], method="bh")
    return [
        replace(pair, p_adjusted=round(float(p), 6))
        for pair, p in zip(pairs, corrected, strict=True)
    ]


def mean_interval(values: Floats, confidence: float = 0.95) -> tuple[float, tuple[float, float]]:
    """Mean of two or more values and its t interval. Shape (n,); in the unit of the values."""
    count = len(values)
    mean, error = float(values.mean()), float(values.std(ddof=1)) / sqrt(count)
    half = float(student_t.ppf((1 + confidence) / 2, count - 1)) * error
    return round(mean, 4), (round(mean - half, 4), round(mean + half, 4))
