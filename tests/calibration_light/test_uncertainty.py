"""Uncertainty helpers against worked numbers of the GUM (JCGM 100:2008) and of Student's t."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calibration.certificate import Quantity
from calibration.uncertainty import (
    NOMINAL_COVERAGE,
    combined,
    effective_freedom,
    mean_and_type_a,
    student_widening,
    type_b_of_expanded,
    type_b_of_limits,
    type_b_of_step,
    widened_for_freedom,
)
from protocols.errors import InputError

GUM_TABLE_1 = """96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07
100.33 100.42 100.68 100.95 101.11 101.20 101.57 101.84 102.36 102.72"""


def test_mean_and_type_a_of_the_temperatures_of_table_1():
    """GUM 4.4.3, twenty temperatures: mean 100.14 C (100.145), s of the mean 0.33 C."""
    mean, standard = mean_and_type_a([float(t) for t in GUM_TABLE_1.split()])
    assert mean == pytest.approx(100.145, abs=5e-4)
    assert standard == pytest.approx(0.333, abs=5e-4)


def test_rectangular_limits_of_4_4_5():
    """GUM 4.4.5: limits of 4 C about 100 C give u = 4/sqrt(3) = 2.3 C."""
    assert type_b_of_limits(4.0) == pytest.approx(2.3, abs=0.05)


def test_a_step_of_resolution():
    """GUM F.2.2.1: u = 0.29 times the step."""
    assert type_b_of_step(1.0) == pytest.approx(0.29, abs=0.002)


def test_a_resistance_of_4_3_4():
    """GUM 4.3.4: U = 129 microohm with k = 2.58 gives u = 50 microohm."""
    assert type_b_of_expanded(129.0, 2.58) == pytest.approx(50.0)


def test_student_t_at_the_coverage_of_a_factor_of_two():
    """GUM table G.2, column 95.45 %: t = 13.97 at 1, 2.28 at 10, 2.13 at 20, 2.05 at 50 degrees."""
    for degrees, t in ((1, 13.97), (10, 2.28), (20, 2.13), (50, 2.05), (1e9, 2.00)):
        assert 2 * student_widening(degrees) == pytest.approx(t, abs=0.005)
    assert abs(NOMINAL_COVERAGE - 0.9545) < 5e-5


def test_widened_uncertainty_covers_what_it_says():
    """Five readings a time: twice the plain s/sqrt(n) covers 88 %, twice the widened 95.45 %."""
    rng = np.random.default_rng(31)
    samples = rng.standard_normal((20_000, 5))
    plain = np.std(samples, axis=1, ddof=1) / math.sqrt(5)
    off = np.abs(np.mean(samples, axis=1))
    widening = widened_for_freedom(1.0, 4)
    assert np.mean(off < 2 * plain) == pytest.approx(0.884, abs=0.01)
    assert np.mean(off < 2 * plain * widening) == pytest.approx(0.9545, abs=0.005)


def test_effective_freedom_of_known_parts_is_endless():
    assert effective_freedom([(1.0, 4), (1.0, math.inf)]) == pytest.approx(16.0)
    assert effective_freedom([(1.0, math.inf)]) == math.inf


def test_end_gauge_of_h_1_6():
    """GUM H.1.6: u = 32 nm with parts 25 (18), 9.7 (25.6), 2.9 (50), 16.6 (2) nm: 16 degrees."""
    parts = [(25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)]
    assert combined(u for u, _ in parts) == pytest.approx(32, abs=0.7)
    assert effective_freedom(parts) == pytest.approx(16.7, abs=1.0)


def test_expanded_is_twice_the_root_of_the_squares():
    assert Quantity(value=1.0, type_a=3.0, type_b=4.0, unit="x").expanded == combined([3, 4]) * 2


def test_one_reading_has_no_spread():
    with pytest.raises(InputError, match="repeats: got 1; allowed: 2 or more"):
        mean_and_type_a([1.0])
    with pytest.raises(InputError, match="degrees of freedom: got 0; allowed: 1 or more"):
        widened_for_freedom(1.0, 0)
