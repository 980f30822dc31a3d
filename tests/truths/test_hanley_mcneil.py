"""Hanley & McNeil 1982, Radiology 143:29: area under a ROC curve and its standard error.

Worked example (their table I): 58 without and 51 with disease rated in five classes; area 0.893171,
standard error 0.03199 (printed 0.893 and 0.032). The area that our bench computes is checked
against it and, on other data, against scikit-learn; its partial area against scikit-learn's
`max_fpr`, which rescales it (McClish 1989, Med Decis Making 9:190): we undo that.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from sklearn.metrics import roc_auc_score, roc_curve

from analysis.indices.roc import area, area_with_interval, hanley_mcneil_se, partial_area

AREA = "Statistics"
SOURCE = "Hanley & McNeil 1982, Radiology 143:29"

WITHOUT = np.repeat([1, 2, 3, 4, 5], [33, 6, 6, 11, 2])
WITH = np.repeat([1, 2, 3, 4, 5], [3, 2, 2, 11, 33])


def test_the_worked_example(truth):
    assert (len(WITHOUT), len(WITH)) == (58, 51)
    truth("area under the worked example's ROC curve", area(WITHOUT, WITH), 0.893171, 5e-7)


def test_its_standard_error(truth):
    """By their table II: chances from the ratings, ties spread evenly within a class."""
    truth("its standard error", hanley_mcneil_se(WITHOUT, WITH), 0.03199, 5e-6)


def test_the_interval_is_two_standard_errors_wide():
    found, (low, high) = area_with_interval(WITHOUT, WITH)
    assert found - low == pytest.approx(high - found)
    assert high - low == pytest.approx(2 * 1.959964 * 0.03199, abs=1e-4)


def _made(seed, ties):
    dice = np.random.default_rng(seed)
    without, having = dice.normal(0, 1, 300), dice.normal(1, 1.5, 200)
    return (without.round(), having.round()) if ties else (without, having)


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_areas_are_those_of_scikit_learn(seed, ties):
    without, having = _made(seed, ties)
    truth = np.repeat([0, 1], [len(without), len(having)])
    score = np.concatenate([without, having])
    assert area(without, having) == pytest.approx(roc_auc_score(truth, score))
    least, most = 0.05**2 / 2, 0.05
    rescaled = roc_auc_score(truth, score, max_fpr=0.05)
    plain = (2 * rescaled - 1) * (most - least) + least
    assert partial_area(without, having, 0.05) == pytest.approx(plain / 0.05)


def test_the_partial_area_is_the_mean_sensitivity_over_the_rates():
    """Second route: the curve itself, integrated."""
    without, having = _made(7, False)
    truth = np.repeat([0, 1], [len(without), len(having)])
    rate, sensitivity, _ = roc_curve(truth, np.concatenate([without, having]))
    at = np.linspace(0, 0.05, 20001)
    mean = np.interp(at, rate, sensitivity).mean()
    assert partial_area(without, having, 0.05) == pytest.approx(mean, abs=2e-3)


def test_the_error_shrinks_as_the_root_of_the_sample():
    ratio = hanley_mcneil_se(WITHOUT, WITH) / hanley_mcneil_se(
        np.repeat(WITHOUT, 100), np.repeat(WITH, 100)
    )
    assert ratio == pytest.approx(10, rel=0.02)
    assert sqrt(100) == 10
