"""Quantile regression (Koenker & Bassett 1978, Econometrica 46:33) by statsmodels."""

from __future__ import annotations

import warnings

import numpy as np

from protocols.field import Floats

STEPS = 2000
"""Most steps of the iteration; it ends long before where the data decide."""


def quantile_line(x: Floats, y: Floats, share: float) -> Floats:
    """Coefficients (k,) of the plane with this share of the points below it; x (n, k), y (n,)."""
    from statsmodels.regression.quantile_regression import QuantReg

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a tail's flat optimum is no fault
        fitted = QuantReg(y, x).fit(q=share, max_iter=STEPS, vcov="iid")
    return np.asarray(fitted.params, float)
