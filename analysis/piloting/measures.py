"""Means, shares and quantiles with Monte-Carlo intervals; places of a person go together."""

from __future__ import annotations

from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri
from scipy.stats import binomtest

from analysis.piloting.result import Measure
from analysis.reference_build.tolerance import clustered_share as korn_graubard
from protocols.field import Floats
from protocols.procedures.interface import Bools

Z95 = float(ndtri(0.975))
DIGITS = 5


def measure(value: float, low: float, high: float) -> Measure:
    """A measure in whatever unit, rounded so that a processor's last digits do not show."""
    return Measure(*(round(float(v), DIGITS) + 0.0 for v in (value, low, high)))


def about(value: float, error: float) -> Measure:
    """A value with its standard error, in the same unit."""
    return measure(value, value - Z95 * error, value + Z95 * error)


def clustered_mean(values: Floats, known: Bools) -> tuple[float, float]:
    """Mean over all known values and its standard error; the first axis is people.

    The error is that of a ratio of people's sums (linearised; Cochran 1977, Sampling Techniques,
    chapter 6), so values of a person may go together as they like.
    """
    people = len(values)
    count = known.reshape(people, -1).sum(axis=1)
    sums = np.where(known, values, 0.0).reshape(people, -1).sum(axis=1)
    total = count.sum()
    mean = sums.sum() / total
    rest = sums - mean * count
    error = sqrt(float(rest @ rest) * people / max(people - 1, 1)) / total
    return float(mean), float(error)


def clustered_share(hits: Bools, known: Bools) -> Measure:
    """A share of known places or exams, with the interval of Korn & Graubard 1998 for clusters.

    Any shape that begins with people, (people, ...). Of one person alone nothing can be told.
    """
    of = known.reshape(len(known), -1).sum(axis=1)
    there = of > 0
    counts = (hits & known).reshape(len(known), -1).sum(axis=1)[there].astype(float)
    if there.sum() < 2:
        return measure(float(counts.sum() / of.sum()), 0.0, 1.0)
    return measure(*korn_graubard(counts, of[there].astype(float))[:3])


def share(hits: int, of: int) -> Measure:
    """A share with Wilson's interval (Wilson 1927, J Am Stat Assoc 22:209).

    >>> share(81, 263).low, share(81, 263).high
    (0.25529, 0.36621)
    """
    low, high = binomtest(hits, of).proportion_ci(0.95, method="wilson")
    return measure(hits / of, low, high)


def root(mean: float, error: float) -> Measure:
    """The square root of a mean square with its standard error, and of its interval's ends.

    dB of squared dB.
    """
    ends = np.sqrt(np.maximum([mean, mean - Z95 * error, mean + Z95 * error], 0.0))
    return measure(*ends)


def weighted_quantile(values: ArrayLike, weights: Floats, quantile: float) -> Measure:
    """A quantile of weighted draws (n,), its interval by Woodruff 1952 (J Am Stat Assoc 47:635).

    The share below is known as well as from as many equal draws as the weights are worth.
    """
    flat = np.asarray(values, float)
    order = np.argsort(flat, kind="stable")
    ordered, cumulative = flat[order], np.cumsum(weights[order]) / weights.sum()
    worth = weights.sum() ** 2 / (weights**2).sum()
    half = Z95 * sqrt(quantile * (1 - quantile) / worth)
    return measure(
        *(_at(ordered, cumulative, end) for end in (quantile, quantile - half, quantile + half))
    )


def _at(ordered: Floats, cumulative: Floats, share: float) -> float:
    index = np.searchsorted(cumulative, share * (1 - 1e-12))
    return float(ordered[min(int(index), len(ordered) - 1)])


def weighted_mean(values: Floats, weights: Floats, groups: Bools) -> Measure:
    """Mean, in their unit, of draws (n,) weighted alike within each of two groups."""
    total, variance = weights.sum(), 0.0
    for rows in (groups, ~groups):
        if rows.sum() > 1:
            part = weights[rows].sum() / total
            variance += part**2 * float(values[rows].var(ddof=1)) / rows.sum()
    return about(float(weights @ values / total), sqrt(variance))
