"""A fitted seeing curve: `psignifit` 4.3 live, Schütt et al. 2016, Vision Res 122:105.

The data are those of its demo: a two-alternative task, contrast, hits, trials.
"""

from __future__ import annotations

import numpy as np
import psignifit
import pytest
from scipy.optimize import minimize
from scipy.stats import norm

from protocols.procedures.psychometric import seeing_probability

AREA = "Procedures"
SOURCE = "Schütt et al. 2016, Vision Res 122:105; psignifit live"

HITS = [45, 50, 44, 44, 52, 53, 62, 64, 76, 79, 88, 90, 90]
CONTRASTS = [
    0.0010, 0.0015, 0.0020, 0.0025, 0.0030, 0.0035, 0.0040, 0.0045, 0.0050, 0.0060, 0.0070,
    0.0080, 0.0100,
]  # fmt: skip
TRIALS = 90
THRESHOLD = 0.0046464


@pytest.fixture(scope="module")
def fitted():
    data = np.column_stack([CONTRASTS, HITS, np.full(len(HITS), TRIALS)])
    return psignifit.psignifit(data, experiment_type="2AFC", sigmoid="norm").parameter_estimate


def test_the_package_gives_the_published_threshold(truth, fitted):
    truth("the package on its demo data: threshold", fitted["threshold"], THRESHOLD, 5e-8)


def test_our_seeing_curve_fitted_to_the_same_data_has_that_threshold_and_width(truth, fitted):
    """Maximum likelihood, without the package's weak priors and overdispersion: within 1 and 5 %.

    Width is that of its definition, from 5 to 95 % of the curve.
    """
    strength, hits = np.array(CONTRASTS) * 1000, np.array(HITS)

    def surprise(parameters):
        threshold, spread, lapse = parameters
        p = seeing_probability(-strength, -threshold, spread, 0.5, lapse)
        return -(hits * np.log(p) + (TRIALS - hits) * np.log(1 - p)).sum()

    found = minimize(surprise, [4.0, 1.0, 0.01], bounds=[(1, 10), (0.1, 10), (1e-9, 0.2)]).x
    width = 2 * norm.ppf(0.95) * found[1]
    print(f"ours {found[0] / 1000:.6f}, psignifit {fitted['threshold']:.6f}")
    truth("our curve on its demo data: threshold", found[0] / 1000, THRESHOLD, 0.01, relative=True)
    assert found[0] / 1000 == pytest.approx(fitted["threshold"], rel=0.01)
    assert width / 1000 == pytest.approx(fitted["width"], rel=0.05)


def test_the_package_and_ours_have_the_same_curve(fitted):
    p = psignifit.sigmoids.sigmoid_by_name("norm", PC=0.5, alpha=0.05)
    strength = np.linspace(0.001, 0.01, 50)
    theirs = p(strength, fitted["threshold"], fitted["width"])
    spread = fitted["width"] / (2 * norm.ppf(0.95))
    ours = seeing_probability(-strength, -fitted["threshold"], spread, 0.0, 0.0)
    np.testing.assert_allclose(ours, theirs, atol=1e-9)
