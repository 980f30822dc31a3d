"""Plain rules over many places, as rivals of the whole-field test."""

from __future__ import annotations

from scipy.stats import binom


def least_unusual_count(places: int, share: float, centile: float = 0.95) -> int:
    """Least number of places below their limit that is more than the centile of chance alone.

    `share` of healthy people lie below the limit of each place; places are taken as independent,
    which they are not, so that the rule's own false-alarm rate has to be measured. The count is
    computed from the binomial distribution.

    >>> least_unusual_count(19, 0.05)
    4
    """
    return int(binom.ppf(centile, places, share)) + 1
