"""Quantile regression (Koenker & Bassett 1978, Econometrica 46:33), two ways to the same plane.

The file's own fit is made by statsmodels; the many fits of the leave-one-out check by the linear
programme that the problem is, which is exact and several times faster. A test holds the two
together.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np

from protocols.field import Floats

STEPS = 2000
"""Most steps of the iteration; it ends long before where the data decide."""

MANY = 1500
"""Points from which most are settled beforehand."""
BAND = 0.03
"""Share of points left open on either side of the plane that is looked for."""

Line = Callable[[Floats, Floats, float], Floats]
"""Coefficients (k,) of the plane with a share of the points below it; x (n, k), y (n,)."""


def quantile_line(x: Floats, y: Floats, share: float) -> Floats:
    """The plane by statsmodels: iterated weighted least squares.

    Points x (n, k) and y (n,) in any units; coefficients (k,).
    """
    from statsmodels.regression.quantile_regression import QuantReg

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a tail's flat optimum is no fault
        fitted = QuantReg(y, x).fit(q=share, max_iter=STEPS, vcov="iid")
    return np.asarray(fitted.params, float)


def exact_line(x: Floats, y: Floats, share: float) -> Floats:
    """The plane by linear programming, through its dual: as many variables as points.

    With many points those that lie clearly on one side are settled beforehand by the plane of a few
    of them, and looked at again afterwards (Portnoy & Koenker 1997, Stat Sci 12:279). Points x (n,
    k) and y (n,), coefficients (k,).
    """
    if len(y) > MANY:
        found = _with_settled(x, y, share)
        if found is not None:
            return found
    return _solved(x, y, share, np.zeros(x.shape[1]))


def _with_settled(x: Floats, y: Floats, share: float) -> Floats | None:
    """The plane, or None where a point that was settled turned out to lie on the other side."""
    few = np.random.default_rng(0).choice(len(y), MANY, replace=False)
    guess = _solved(x[few], y[few], share, np.zeros(x.shape[1]))
    away = y - x @ guess
    low, high = np.quantile(away, [max(share - BAND, 0.0), min(share + BAND, 1.0)])
    above, below = away > high, away < low
    open_ = ~(above | below)
    if not open_.any():
        return None
    aside = x[above].sum(axis=0) - (1 - share) * x[~open_].sum(axis=0)
    plane = _solved(x[open_], y[open_], share, aside)
    rest = y - x @ plane
    wrong = (rest[above] < 0).any() or (rest[below] > 0).any()
    return None if wrong else plane


def _solved(x: Floats, y: Floats, share: float, aside: Floats) -> Floats:
    from scipy.optimize import linprog

    solved = linprog(
        -y,
        A_eq=x.T,
        b_eq=(1 - share) * x.sum(axis=0) - aside,
        bounds=(0.0, 1.0),
        method="highs-ds",
    )
    if solved.eqlin is None or not solved.success:
        return np.full(x.shape[1], np.nan)
    return np.asarray(-solved.eqlin.marginals, float)
