"""How sure a limit is: one-sided tolerance statements, and intervals for clustered counts.

Wilks 1941, Ann Math Stat 12:91, for order statistics; ISO 16269-6 and the NIST handbook, 7.2.6.3,
for normal factors; Korn & Graubard 1998, Surv Methodol 24:193, for shares counted in clusters
(places of one person are no independent draws).
"""

from __future__ import annotations

from math import ceil, log, sqrt
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtri
from scipy.stats import beta, nct, t

from protocols.errors import InputError, require_within
from protocols.field import Floats

CONFIDENCE = 0.95


def wilks_people(content: float, confidence: float = CONFIDENCE) -> int:
    """Fewest people of whom the lowest is a one-sided tolerance bound (first order).

    With that confidence at least `content` of all people lie above the lowest of them.

    >>> wilks_people(0.95), wilks_people(0.99)
    (59, 299)
    """
    return ceil(log(1 - confidence) / log(content) - 1e-9)


def wilks_people_two_sided(content: float, confidence: float = CONFIDENCE) -> int:
    """Fewest people between whose lowest and highest at least `content` of all people lie.

    >>> wilks_people_two_sided(0.95), wilks_people_two_sided(0.99)
    (93, 473)
    """
    people = 2
    while 1 - people * content ** (people - 1) + (people - 1) * content**people < confidence:
        people += 1
    return people


def wilks_content(people: int, confidence: float = CONFIDENCE) -> float:
    """Share of all people that lies above the lowest of so many, with that confidence.

    Raises InputError for fewer than one.

    >>> round(wilks_content(299), 4)
    0.99
    """
    require_within("people", people, 1, 10**9, "Give a count.")
    return float((1 - confidence) ** (1 / people))


def normal_factor(people: int, content: float, confidence: float = CONFIDENCE) -> float:
    """k: mean less k SD is a one-sided tolerance bound of a normal sample.

    >>> round(normal_factor(20, 0.95), 3)
    2.396
    """
    shift = float(ndtri(content)) * sqrt(people)
    return float(nct.ppf(confidence, people - 1, shift)) / sqrt(people)


def at_most_share(people: int, factor: float, confidence: float = CONFIDENCE) -> float:
    """Share of a normal population below mean - factor * SD of a sample: at most this.

    The inverse of `normal_factor`: with that confidence no more lie below.
    """

    def surplus(share: float) -> float:
        return normal_factor(people, 1 - share, confidence) - factor

    if surplus(0.5) > 0:
        return 1.0
    if surplus(1e-9) < 0:
        return 0.0
    return float(brentq(surplus, 1e-9, 0.5, xtol=1e-7))


class Counted(NamedTuple):
    """A share counted in clusters: the share, its interval, and how many draws it is worth."""

    share: float
    low: float
    high: float
    worth: float


def clustered_share(below: Floats, of: Floats, confidence: float = CONFIDENCE) -> Counted:
    """Share of places below, with an interval that heeds that places of a person go together.

    `below` and `of` are counts a person, (people,). A Clopper-Pearson interval for as many
    independent draws as the count is worth (Korn & Graubard 1998). How many that is rests on the
    few people with places below, so it is taken with as many degrees of freedom as they are,
    less one (ours, on the safe side; checked by simulation). Raises InputError for fewer
    than two people.
    """
    people, total = len(of), float(of.sum())
    if people < 2 or total == 0:
        raise InputError("people", people, "two or more", "Add exams of other people.")
    share = float(below.sum()) / total
    tail = (1 - confidence) / 2
    freedom = max(int((below > 0).sum()) - 1, 1) if 0 < share < 1 else people - 1
    worth = _worth(below, of, share) * (ndtri(tail) / t.ppf(tail, freedom)) ** 2
    seen = share * worth
    low = float(beta.ppf(tail, seen, worth - seen + 1)) if seen > 0 else 0.0
    high = float(beta.ppf(1 - tail, seen + 1, worth - seen)) if seen < worth else 1.0
    return Counted(share, low, high, worth)


def _worth(below: Floats, of: Floats, share: float) -> float:
    """Independent draws with the variance of this share; people, where none or all lie below."""
    people, total = len(of), float(of.sum())
    if share in (0.0, 1.0):
        return float(people)
    scatter = float(((below - share * of) ** 2).sum()) * people / (people - 1) / total**2
    return min(share * (1 - share) / scatter, total) if scatter > 0 else total


def shares_of(below: np.ndarray, of: np.ndarray) -> Floats:
    """Share below by column of counts (people, places); not a number where nobody was measured."""
    with np.errstate(invalid="ignore"):
        return np.asarray(below.sum(axis=0) / of.sum(axis=0), float)
