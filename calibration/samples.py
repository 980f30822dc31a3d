"""Measured series: what every measurement asks of them, and the value they give.

A series is refused rather than mended: one that is empty, too short, or holds a value that is not
a number. Repeated readings become a `Quantity` whose expanded uncertainty covers 95 %.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from calibration.certificate import COVERAGE_FACTOR, Quantity
from protocols.errors import InputError
from protocols.field import Floats

COVERAGE = 0.95
RECTANGULAR = 3**0.5


def series(name: str, values: ArrayLike, least: int, todo: str) -> Floats:
    """Values as an array of shape (n,), n at least `least`; raises InputError otherwise.

    In the unit of the values.

    >>> series("readings", [1, 2], 2, "Read again.").tolist()
    [1.0, 2.0]
    """
    found = np.asarray(values, float)
    if found.ndim != 1:
        raise InputError(name, f"an array of shape {found.shape}", "one row of numbers", todo)
    if len(found) < least:
        raise InputError(f"{name}, number of values", len(found), f"{least} or more", todo)
    wrong = np.flatnonzero(~np.isfinite(found))
    if len(wrong):
        raise InputError(name, f"{found[wrong[0]]} at number {wrong[0] + 1}", "numbers only", todo)
    return found


def rising(name: str, values: ArrayLike, least: int, todo: str) -> Floats:
    """Times in order, each later than the one before, shape (n,); raises InputError otherwise."""
    found = series(name, values, least, todo)
    back = np.flatnonzero(np.diff(found) <= 0)
    if len(back):
        at = int(back[0])
        given = f"{found[at + 1]:.9g} after {found[at]:.9g} at number {at + 2}"
        raise InputError(name, given, "each time later than the one before", todo)
    return found


def repeated(name: str, values: ArrayLike, least: int, type_b: float, unit: str) -> Quantity:
    """Mean of repeated readings with its uncertainty; `type_b` is a standard one, in `unit`.

    The standard error of few readings is widened by Student's t over the coverage factor (JCGM
    100:2008, annex G), so that the expanded uncertainty covers 95 % however few they are. Readings
    of shape (n,).

    >>> repeated("length", [10.0, 10.1, 9.9], 3, 0.05, "cm").value
    10.0
    """
    found = series(name, values, max(least, 2), "Repeat the reading.")
    error = float(np.std(found, ddof=1) / np.sqrt(len(found)))
    wider = stats.t.ppf(0.5 + COVERAGE / 2, len(found) - 1) / COVERAGE_FACTOR
    return Quantity(
        value=float(np.mean(found)), type_a=error * float(wider), type_b=type_b, unit=unit
    )


def scaled(quantity: Quantity, factor: float, unit: str) -> Quantity:
    """A quantity times an exact factor.

    >>> scaled(Quantity(value=2.0, type_a=0.1, type_b=0.0, unit="cm"), 10.0, "mm").value
    20.0
    """
    size = abs(factor)
    return Quantity(
        value=quantity.value * factor,
        type_a=quantity.type_a * size,
        type_b=quantity.type_b * size,
        unit=unit,
    )


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value known only to lie within `half_width` of the one stated.

    In the unit of the value.
    """
    return half_width / RECTANGULAR
