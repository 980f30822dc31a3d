"""Uncertainty of measurement, as the GUM (JCGM 100:2008) has it.

Type A comes from repeated readings, type B from anything else: data sheets, certificates, the step
of a scale. All functions here work with standard uncertainties; the expanded one is twice that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from calibration.certificate import COVERAGE_FACTOR
from protocols.errors import InputError

NOMINAL_COVERAGE = float(stats.norm.cdf(COVERAGE_FACTOR) - stats.norm.cdf(-COVERAGE_FACTOR))


def mean_and_type_a(readings: ArrayLike) -> tuple[float, float]:
    """Mean of repeated readings and its standard uncertainty, s/sqrt(n) (GUM 4.2.3).

    Raises InputError for fewer than two readings. Shape (n,); in the unit of the readings.

    >>> mean_and_type_a([10.0, 12.0, 14.0])[0]
    12.0
    """
    values = np.asarray(readings, float)
    if len(values) < 2:
        raise InputError("repeats", len(values), "2 or more", "Read again to know the spread.")
    return float(np.mean(values)), float(np.std(values, ddof=1) / math.sqrt(len(values)))


def type_b_of_limits(half_width: float) -> float:
    """Standard uncertainty of limits +-a with nothing known between them: a/sqrt(3) (GUM 4.3.7).

    In the unit of the limits.

    >>> round(type_b_of_limits(0.03), 6)
    0.017321
    """
    return half_width / math.sqrt(3)


def type_b_of_step(step: float) -> float:
    """Standard uncertainty of a scale that shows whole steps: step/sqrt(12) (GUM F.2.2.1).

    In the unit of the step.
    """
    return type_b_of_limits(step / 2)


def type_b_of_expanded(expanded: float, coverage_factor: float) -> float:
    """Standard uncertainty behind an expanded one, as a calibration certificate has it.

    In the unit of `expanded`; the coverage factor is a pure number.
    """
    return expanded / coverage_factor


def combined(parts: Iterable[float]) -> float:
    """Root of the sum of squares of independent standard uncertainties (GUM 5.1.2).

    In the unit of the parts.

    >>> combined([3.0, 4.0])
    5.0
    """
    return math.sqrt(math.fsum(part**2 for part in parts))


def effective_freedom(parts: Iterable[tuple[float, float]]) -> float:
    """Effective degrees of freedom of (standard uncertainty, degrees) pairs (GUM G.4.1).

    Welch and Satterthwaite's formula; parts known for certain have infinite degrees.
    """
    given = list(parts)
    spread = math.fsum(u**4 / degrees for u, degrees in given)
    return combined(u for u, _ in given) ** 4 / spread if spread > 0 else math.inf


def widened_for_freedom(standard: float, degrees: float) -> float:
    """Standard uncertainty for which the factor 2 covers what Student's t would (GUM G.6.4).

    With few degrees of freedom, twice s covers less than 95.45 %. The certificate's factor stays
    2, so the standard uncertainty is widened by t/2 instead. Raises InputError below 1 degree.

    >>> round(widened_for_freedom(1.0, 10), 4)
    1.1418
    """
    if degrees < 1:
        raise InputError("degrees of freedom", degrees, "1 or more", "Take more readings.")
    return standard * student_widening(degrees)


def student_widening(degrees: float) -> float:
    """Student's t at the coverage of a factor 2, over 2; 1 with endless degrees of freedom."""
    quantile = (1 + NOMINAL_COVERAGE) / 2
    return float(stats.t.ppf(quantile, degrees) / COVERAGE_FACTOR)
