"""How many people a lab's own study takes: for age limits, for agreement, for a difference."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, sqrt

import numpy as np
from scipy.special import ndtri
from scipy.stats import binom, nct
from scipy.stats import t as student_t

from analysis.agreement import LEAST_PAIRS
from analysis.reference_build.tolerance import wilks_people
from protocols.errors import InputError

CONFIDENCE = 0.95
MOST_PEOPLE = 10_000_000


def limit_people(share: float, rank: int = 1, confidence: float = CONFIDENCE) -> int:
    """Fewest people whose `rank`-th lowest is a limit that at most this share lies below.

    With that confidence and without any assumption on the distribution: Wilks 1941, Ann Math Stat
    12:91, and for higher ranks Wilks 1942, 13:400. Raises InputError above ten million.

    >>> [limit_people(0.05, rank) for rank in (1, 2, 3)], limit_people(0.01)
    ([59, 93, 124], 299)
    """
    if rank == 1:
        return wilks_people(1 - share, confidence)
    return _fewest(lambda n: bool(binom.sf(rank - 1, n, share) >= confidence), rank)


def near_limit_people(
    share: float, sd_db: float, within_db: float, confidence: float = CONFIDENCE
) -> int:
    """Fewest people for a limit whose interval reaches no further than `within_db` either side.

    For levels that are normal with SD `sd_db`: the variance of mean less z SD is
    SD^2 (1/n + z^2 / 2n), Bland & Altman 1986, Lancet i:307.

    >>> near_limit_people(0.01, 2.5, 1.0)
    89
    """
    z, reach = float(ndtri(share)), float(ndtri((1 + confidence) / 2))
    return max(2, ceil((reach * sd_db / within_db) ** 2 * (1 + z**2 / 2) - 1e-9))


def agreement_pairs(sd_db: float, within_db: float, confidence: float = CONFIDENCE) -> int:
    """Fewest pairs for limits of agreement known to `within_db` either side.

    `sd_db` is the SD of the differences; the interval is that of `analysis.agreement`, with the
    standard error sqrt(3 SD^2 / n) of Bland & Altman 1986. Raises InputError above ten million.
    """

    def enough(pairs: int) -> bool:
        quantile = float(student_t.ppf((1 + confidence) / 2, pairs - 1))
        return quantile * sd_db * sqrt(3 / pairs) <= within_db * (1 + 1e-12)

    return _fewest(enough, LEAST_PAIRS)


def paired_power(pairs: int, difference_db: float, sd_db: float, alpha: float = 0.05) -> float:
    """Chance that a two-sided paired t test finds a true mean difference; SD of differences."""
    return _power(sqrt(pairs) * difference_db / sd_db, pairs - 1, alpha)


def paired_people(
    difference_db: float, sd_db: float, power: float = 0.8, alpha: float = 0.05
) -> int:
    """Fewest people examined twice that find a mean difference with that power.

    >>> paired_people(1.0, 2.0)
    34
    """
    return _fewest(lambda n: paired_power(n, difference_db, sd_db, alpha) >= power, 2)


def group_power(people: int, difference_db: float, sd_db: float, alpha: float = 0.05) -> float:
    """The same for two groups of so many people each; SD between people within a group."""
    return _power(sqrt(people / 2) * difference_db / sd_db, 2 * people - 2, alpha)


def group_people(
    difference_db: float, sd_db: float, power: float = 0.8, alpha: float = 0.05
) -> int:
    """Fewest people in each of two groups that find a difference of means with that power.

    >>> group_people(1.0, 2.0)
    64
    """
    return _fewest(lambda n: group_power(n, difference_db, sd_db, alpha) >= power, 2)


def _power(shift: float, freedom: float, alpha: float) -> float:
    """Both tails of the noncentral t; where it overflows, far out, the test is sure."""
    edge = float(student_t.isf(alpha / 2, freedom))
    upper, lower = nct.sf(edge, freedom, abs(shift)), nct.cdf(-edge, freedom, abs(shift))
    return float(np.nan_to_num(upper, nan=1.0) + np.nan_to_num(lower, nan=0.0))


def _fewest(enough: Callable[[int], bool], least: int) -> int:
    """The smallest number from `least` on that is enough; more is never too few."""
    high = least
    while not enough(high):
        high *= 2
        if high > MOST_PEOPLE:
            raise InputError(
                "people", f"more than {MOST_PEOPLE:,}", f"studies of up to {MOST_PEOPLE:,}",
                "Ask for less precision or a larger difference.",
            )  # fmt: skip
    low = max(least, high // 2)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    return high
