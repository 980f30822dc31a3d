"""Areas under ROC curves of scores, higher for loss, with ties shared alike.

Area and standard error as in Hanley & McNeil 1982, Radiology 143:29.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from protocols.field import Floats


def curve(without: ArrayLike, having: ArrayLike) -> tuple[Floats, Floats]:
    """False-alarm rate and sensitivity at every cut, from (0, 0) to (1, 1): shares of fields.

    `without` and `having` are scores, shapes (M,) and (N,); each answer has shape (cuts + 1,).
    """
    low, high = np.sort(np.asarray(without, float)), np.sort(np.asarray(having, float))
    cuts = np.unique(np.concatenate([low, high]))[::-1]
    alarms = 1 - np.searchsorted(low, cuts) / len(low)
    found = 1 - np.searchsorted(high, cuts) / len(high)
    return np.concatenate([[0.0], alarms]), np.concatenate([[0.0], found])


def area(without: ArrayLike, having: ArrayLike) -> float:
    """Chance that a field with loss scores higher than one without.

    Scores of fields without and with loss, shapes (M,) and (N,), in any unit.

    >>> area([1, 2], [2, 3])
    0.875
    """
    alarms, found = curve(without, having)
    return float(np.trapezoid(found, alarms))


def partial_area(without: ArrayLike, having: ArrayLike, most_alarms: float) -> float:
    """Mean sensitivity (0..1) over false-alarm rates from 0 to `most_alarms`, a share.

    Scores of fields without and with loss, shapes (M,) and (N,).
    """
    return area_up_to(*curve(without, having), most_alarms)


def area_up_to(alarms: Floats, found: Floats, most_alarms: float) -> float:
    """The same of a curve: shares of false alarms, rising from 0, and of loss found, (cuts,)."""
    end = np.interp(most_alarms, alarms, found)
    inside = alarms < most_alarms
    x, y = np.append(alarms[inside], most_alarms), np.append(found[inside], end)
    return float(np.trapezoid(y, x) / most_alarms)


def hanley_mcneil_se(without: ArrayLike, having: ArrayLike) -> float:
    """Standard error of the area by their formula, from the ratings themselves.

    Scores of fields without and with loss, shapes (M,) and (N,).
    """
    low, high = np.sort(np.asarray(without, float)), np.sort(np.asarray(having, float))
    theta = area(low, high)
    two_having = float(np.mean(_both_exceed(-high[::-1], -low)))
    two_without = float(np.mean(_both_exceed(low, high)))
    n, m = len(low), len(high)
    spread = theta * (1 - theta) + (m - 1) * (two_having - theta**2)
    spread += (n - 1) * (two_without - theta**2)
    return float(np.sqrt(spread / (n * m)))


def _both_exceed(others: Floats, values: Floats) -> Floats:
    """Chance that each value exceeds two of the others, ties spread evenly within their class."""
    below = np.searchsorted(others, values) / len(others)
    tied = np.searchsorted(others, values, side="right") / len(others) - below
    return np.asarray(below**2 + below * tied + tied**2 / 3)


def area_with_interval(
    without: ArrayLike, having: ArrayLike
) -> tuple[float, tuple[float, float]]:
    """Area and its 95 % interval, from scores without and with loss, shapes (M,) and (N,)."""
    found = area(without, having)
    half = 1.959963984540054 * hanley_mcneil_se(without, having)
    return found, (found - half, found + half)


def predictive_value(sensitivity: float, specificity: float, prevalence: float) -> float:
    """Chance of loss where a test says so, by Bayes' rule.

    >>> round(predictive_value(0.90, 0.95, 0.0354), 4)
    0.3978
    """
    right = sensitivity * prevalence
    return right / (right + (1 - specificity) * (1 - prevalence))
