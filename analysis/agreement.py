"""Test-retest agreement: limits of agreement with intervals, and whether practice helped.

Bland & Altman 1986, Lancet i:307: mean difference, its SD, mean less and plus 1.96 SD; the standard
error of a limit is taken as sqrt(3 SD^2 / n), as there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import linregress
from scipy.stats import t as student_t

from analysis.flips import sign_flip
from analysis.symmetry import mean_interval
from protocols.errors import InputError
from protocols.field import Floats

if TYPE_CHECKING:
    import pandas as pd

Interval = tuple[float, float]
LIMIT_SDS = 1.96
LEAST_PAIRS = 3
LEARNING_P = 0.05


@dataclass(frozen=True)
class Agreement:
    """Differences of n pairs: mean, SD, limits, each with its 95 % interval.

    `slope` is the change of the difference with the mean of a pair, with its probability: far from
    0 the limits do not hold over the whole range.
    """

    pairs: int
    mean: float
    sd: float
    mean_interval: Interval
    low: float
    low_interval: Interval
    high: float
    high_interval: Interval
    slope: float
    slope_p: float


def bland_altman(
    first: Floats, second: Floats, sds: float = LIMIT_SDS, confidence: float = 0.95
) -> Agreement:
    """Agreement of pairs, first less second, each (n,).

    Raises InputError below three pairs, and for a measurement without its pair.
    """
    _require_pairs(np.asarray(first, float), np.asarray(second, float))
    differences = np.asarray(first, float) - np.asarray(second, float)
    count = len(differences)
    mean, sd = float(differences.mean()), float(differences.std(ddof=1))
    quantile = float(student_t.ppf((1 + confidence) / 2, count - 1))
    about_mean, about_limit = quantile * sd / sqrt(count), quantile * sd * sqrt(3 / count)
    slope, slope_p = _slope((np.asarray(first) + np.asarray(second)) / 2, differences)
    low, high = mean - sds * sd, mean + sds * sd
    return Agreement(
        pairs=count,
        mean=mean,
        sd=sd,
        mean_interval=(mean - about_mean, mean + about_mean),
        low=low,
        low_interval=(low - about_limit, low + about_limit),
        high=high,
        high_interval=(high - about_limit, high + about_limit),
        slope=slope,
        slope_p=slope_p,
    )


def _require_pairs(first: Floats, second: Floats) -> None:
    todo = "Leave out what was measured once."
    if first.shape != second.shape:
        given = f"{first.size} and {second.size} measurements"
        raise InputError("pairs", given, "as many second as first ones", todo)
    single = int((~(np.isfinite(first) & np.isfinite(second))).sum())
    if single:
        raise InputError("pairs", f"{single} with a value that is no number", "numbers", todo)
    if len(first) < LEAST_PAIRS:
        raise InputError("pairs", len(first), f"{LEAST_PAIRS} or more", "Add measurements.")


def _slope(means: Floats, differences: Floats) -> tuple[float, float]:
    if np.ptp(means) == 0 or np.ptp(differences) == 0:
        return 0.0, 1.0
    found = linregress(means, differences)
    return float(found.slope), float(found.pvalue)


@dataclass(frozen=True)
class Learning:
    """Gain from the first visit to the second over the field, dB, and whether it is flagged."""

    gain_db: float
    interval_db: Interval
    p: float

    @property
    def flagged(self) -> bool:
        """Whether the second visit was better than chance would have it."""
        return self.gain_db > 0 and self.p < LEARNING_P


def learning(first_db: Floats, second_db: Floats) -> Learning | None:
    """Second less first visit by places, (places,); one-sided sign-flip test; None below two."""
    both = np.isfinite(first_db) & np.isfinite(second_db)
    gains = (second_db - first_db)[both]
    if len(gains) < 2:
        return None
    mean, interval = mean_interval(gains)
    return Learning(mean, interval, sign_flip(gains).p_up)


def retest_pairs(frame: pd.DataFrame, by: str = "eye") -> pd.DataFrame:
    """First and second exam of each participant's eye from `analysis.load(...)`, as pairs.

    By "eye" one row an eye with the mean level of places finished both times; by "place" one row a
    place (places of a person are not independent: limits come out too sure). Columns: participant,
    eye, number, first_db, second_db. Raises InputError for another `by`.
    """
    if by not in ("eye", "place"):
        raise InputError("by", by, "eye or place", "Choose one of them.")
    known = frame.dropna(subset=["estimate_db"])
    visit = known.groupby(["participant", "eye"]).opened_utc.rank(method="dense")
    keys = ["participant", "eye", "number"]
    first, second = (
        known[visit == n].set_index(keys)["estimate_db"].rename(name)
        for n, name in ((1, "first_db"), (2, "second_db"))
    )
    pairs = first.to_frame().join(second, how="inner").reset_index()
    if by == "place":
        return pairs
    columns = ["first_db", "second_db"]
    means = pairs.groupby(["participant", "eye"], as_index=False)[columns].mean()
    return means.assign(number=-1)[[*keys, *columns]]
