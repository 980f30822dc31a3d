"""Nonlinear least squares with standard errors, checked against NIST's certified data sets.

A thin route over MINPACK's Levenberg-Marquardt: residuals are divided by each reading's standard
deviation, the covariance is s^2 (J'J)^-1 of the weighted Jacobian, s^2 the residual variance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from protocols.errors import InputError
from protocols.field import Floats

TIGHTEST = 1e-15
MOST_EVALUATIONS = 20_000
ROUNDING = 1e-9
RELATIVE_STEP = 5e-5
POLISHING_STEPS = 100
SHRINKING = 0.95
Model = Callable[[Floats], Floats]


@dataclass(frozen=True)
class NonlinearFit:
    """Parameters (p,), the weighted residuals (n,), and (J'J)^-1 of the weighted Jacobian (p, p).

    `unit_covariance` is the covariance if `standard` was the true standard deviation of each
    reading; `covariance` takes only the ratios between readings from it.
    """

    parameters: Floats
    residuals: Floats
    unit_covariance: Floats

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less parameters."""
        return len(self.residuals) - len(self.parameters)

    @property
    def residual_sum(self) -> float:
        """Sum of squared weighted residuals."""
        return float(self.residuals @ self.residuals)

    @property
    def residual_sd(self) -> float:
        """Root of residual sum over degrees of freedom; about 1 if the weights are true."""
        return float(np.sqrt(self.residual_sum / self.degrees_of_freedom))

    @property
    def covariance(self) -> Floats:
        """Covariance of the parameters, scaled by the residual variance, shape (p, p)."""
        return np.asarray(self.unit_covariance * self.residual_sd**2)

    @property
    def standard_errors(self) -> Floats:
        """Standard error of each parameter, shape (p,)."""
        return np.sqrt(np.diag(self.covariance))


def fit_nonlinear(
    model: Model,
    observed: ArrayLike,
    start: ArrayLike,
    standard: ArrayLike = 1.0,
    jacobian: Model | None = None,
    most_evaluations: int = MOST_EVALUATIONS,
) -> NonlinearFit:
    """Fit `model(parameters) -> (n,)` to `observed` (n,) with standard deviations `standard`.

    `jacobian(parameters) -> (n, p)`; without it, two-sided differences. Raises InputError when
    there are not more readings than parameters, when the search does not settle, or when the
    readings do not tell the parameters apart. Units are those of the model and the readings.
    """
    wanted, first = np.asarray(observed, float), np.asarray(start, float)
    spread = np.broadcast_to(np.asarray(standard, float), wanted.shape)
    _require_enough(len(wanted), len(first))
    slopes = jacobian if jacobian is not None else _differences(model)

    def off(parameters: Floats) -> Floats:
        return np.asarray((model(parameters) - wanted) / spread)

    def weighted(parameters: Floats) -> Floats:
        return np.asarray(slopes(parameters) / spread[:, None])

    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        found = _polished(off, weighted, _searched(off, weighted, first, most_evaluations))
        return NonlinearFit(found, -off(found), unscaled(weighted(found)))


def _searched(off: Model, slopes: Model, first: Floats, most_evaluations: int) -> Floats:
    found = least_squares(
        off,
        first,
        jac=slopes,
        method="lm",
        x_scale="jac",
        ftol=TIGHTEST,
        xtol=TIGHTEST,
        gtol=TIGHTEST,
        max_nfev=most_evaluations,
    )
    if not found.success or not np.all(np.isfinite(found.x)):
        raise _does_not_settle(found.message)
    return np.asarray(found.x, float)


def _polished(off: Model, slopes: Model, parameters: Floats) -> Floats:
    """Gauss-Newton steps from where the search stopped, for as long as each is smaller.

    The residual sum is flat at its least to half the digits of a float; its slope is not.
    """
    best, last = parameters, np.inf
    for _ in range(POLISHING_STEPS):
        jacobian, left = slopes(best), off(best)
        if not (np.all(np.isfinite(jacobian)) and np.all(np.isfinite(left))):
            raise _does_not_settle("parameters for which the model has no value")
        step = np.linalg.lstsq(jacobian, -left, rcond=None)[0]
        size = float(np.linalg.norm(jacobian @ step))
        if not size < SHRINKING * last:
            break
        best, last = best + step, size
    return best


def unscaled(weighted_jacobian: Floats) -> Floats:
    """(J'J)^-1 of a weighted Jacobian (n, p), by its singular values on columns of equal length.

    Raises InputError where the columns depend on each other. Units are those of the parameters.
    """
    lengths = np.linalg.norm(weighted_jacobian, axis=0)
    if np.any(lengths == 0):
        raise _cannot_tell_apart()
    _, values, axes = np.linalg.svd(weighted_jacobian / lengths, full_matrices=False)
    if values[-1] < ROUNDING * values[0]:
        raise _cannot_tell_apart()
    root = axes.T / values
    return np.asarray(root @ root.T / np.outer(lengths, lengths))


def _does_not_settle(given: str) -> InputError:
    return InputError("readings", given, "a fit that settles", "Measure again.")


def _cannot_tell_apart() -> InputError:
    return InputError(
        "readings",
        "levels that do not tell the parameters apart",
        "levels over the whole range",
        "Measure at more levels.",
    )


def _require_enough(readings: int, parameters: int) -> None:
    if readings <= parameters:
        raise InputError("readings", readings, f"more than {parameters}", "Take more readings.")


def _differences(model: Model) -> Model:
    """Jacobian by two-sided differences of fourth order."""

    def slopes(parameters: Floats) -> Floats:
        steps = RELATIVE_STEP * np.maximum(np.abs(parameters), 1e-3)
        return np.stack([_slope(model, parameters, i, h) for i, h in enumerate(steps)], axis=1)

    return slopes


def _slope(model: Model, parameters: Floats, index: int, step: float) -> Floats:
    unit = np.zeros_like(parameters)
    unit[index] = step
    near = model(parameters + unit) - model(parameters - unit)
    far = model(parameters + 2 * unit) - model(parameters - 2 * unit)
    return np.asarray((8 * near - far) / (12 * step))
