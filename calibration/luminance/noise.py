"""The noise of a meter: a share of the reading and a floor, found from the residuals of a fit.

Variance = (relative * L)^2 + floor^2. Weighting readings by it matters: a meter's noise grows
with the light, and a fit without weights would be decided by the brightest readings alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import nnls

from protocols.field import Floats

FIRST_RELATIVE = 0.01
FIRST_FLOOR = 1e-4
LEAST_RELATIVE = 1e-5
LEAST_FLOOR = 2e-5
ROUNDS = 6


@dataclass(frozen=True)
class Noise:
    """Standard deviation of one reading: a share of it, and a floor in cd/m2."""

    relative: float
    floor_cd_m2: float

    def standard(self, cd_m2: ArrayLike) -> Floats:
        """Standard deviation of readings of these luminances, cd/m2; any shape."""
        return np.hypot(self.relative * np.asarray(cd_m2, float), self.floor_cd_m2)


def first_guess(brightest_cd_m2: float) -> Noise:
    """The noise to begin with, before any residuals are known."""
    return Noise(FIRST_RELATIVE, FIRST_FLOOR * brightest_cd_m2)


def noise_of(squares: Floats, fitted: Floats, guess: Noise) -> Noise:
    """Noise from squared residuals (n,) at fitted luminances (n,).

    The squares, already corrected for what the fit took of them, are regressed on L^2 and 1 with
    weights 1/variance^2, in rounds (pseudo-likelihood; Davidian & Carroll 1987, J Am Stat Assoc
    82:1079). Both in cd/m2, squares in its square.
    """
    brightest = float(np.max(np.abs(fitted)))
    noise = guess
    for _ in range(ROUNDS):
        weight = 1 / noise.standard(fitted) ** 2
        design = np.stack([(fitted / brightest) ** 2, np.ones_like(fitted)], axis=1)
        parts, _ = nnls(design * weight[:, None], squares * weight)
        noise = _bounded(float(np.sqrt(parts[0])), float(np.sqrt(parts[1])), brightest)
    return noise


def _bounded(bright: float, floor: float, brightest: float) -> Noise:
    relative = max(bright / brightest, LEAST_RELATIVE)
    return Noise(relative, max(floor, LEAST_FLOOR * brightest))
