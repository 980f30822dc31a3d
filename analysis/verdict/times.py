"""Response times against those expected by age, and whether they drift.

Woods et al. 2015, Front Hum Neurosci 9:131: simple reactions take 231 ms on average, 0.55 ms more
a year; the mean is taken to stand for 41.5 years. A soft-edged patch somewhere in the periphery
takes longer: from that mean to twice it is what is expected here, an assumption.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.stats import binom, theilslopes

from analysis.verdict.facts import TimeCheck
from protocols.field import Floats

SIMPLE_S, PER_YEAR_S, MIDDLE_AGE_YEARS = 0.231, 0.00055, 41.5
EXPECTED_TIMES = 2.0
TOO_QUICK_S = 0.15
"""Faster than this is no answer to what was shown (common practice, no published source)."""
LEAST_FOR_DRIFT = 5


def simple_reaction_s(age_years: float) -> float:
    """Published mean of simple reactions at an age, seconds.

    >>> round(simple_reaction_s(61.5), 4)
    0.242
    """
    return SIMPLE_S + PER_YEAR_S * (age_years - MIDDLE_AGE_YEARS)


def time_check(times_s: Sequence[float], minutes: Sequence[float], age_years: int) -> TimeCheck:
    """Of response times to seen targets, with the minutes at which they came."""
    low = simple_reaction_s(age_years)
    expected = (round(low, 4), round(EXPECTED_TIMES * low, 4))
    if not times_s:
        words = "No response times, so nothing can be said of them."
        return TimeCheck(0, None, None, expected, None, None, None, words)
    values = np.sort(np.asarray(times_s, float))
    median, drift = float(np.median(values)), _drift(times_s, minutes)
    return TimeCheck(
        count=len(values),
        median_s=round(median, 4),
        interval_s=_median_interval(values),
        expected_s=expected,
        share_too_quick=round(float(np.mean(values < TOO_QUICK_S)), 4),
        drift_s_per_min=None if drift is None else drift[0],
        drift_interval_s_per_min=None if drift is None else (drift[1], drift[2]),
        words=_words(median, low, drift),
    )


def _median_interval(values: Floats) -> tuple[float, float] | None:
    """Distribution-free 95 % interval of the median by order statistics; None with too few."""
    rank = _rank(len(values))
    if rank < 1:
        return None
    return round(float(values[rank - 1]), 4), round(float(values[len(values) - rank]), 4)


@lru_cache(maxsize=1024)
def _rank(count: int) -> int:
    """Of the lower end of the median's interval, from 1; 0 where there is none."""
    return int(binom.ppf(0.025, count, 0.5))


def _drift(
    times_s: Sequence[float], minutes: Sequence[float]
) -> tuple[float, float, float] | None:
    """Theil-Sen slope and its 95 % interval, seconds a minute."""
    if len(times_s) < LEAST_FOR_DRIFT or np.ptp(minutes) == 0:
        return None
    found = theilslopes(times_s, minutes, 0.95)
    low, high = sorted((found.low_slope, found.high_slope))
    return round(float(found.slope), 4), round(float(low), 4), round(float(high), 4)


def _words(median: float, low: float, drift: tuple[float, float, float] | None) -> str:
    text = f"Median {median:.2f} s, {median / low:.1f} times the published simple reaction"
    if median < low:
        text += ": quicker than people react, so presses may follow a rhythm"
    elif median > EXPECTED_TIMES * low:
        text += ": slower than expected"
    if drift is not None and drift[1] > 0:
        text += "; slower towards the end"
    if drift is not None and drift[2] < 0:
        text += "; quicker towards the end"
    return f"{text}."
