"""What a fitted channel can be asked, whichever model it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from calibration.luminance.noise import Noise
from protocols.errors import InputError
from protocols.field import Floats


class Shape(Protocol):
    """A model of luminance over the share of the top code, 0..1."""

    @property
    def name(self) -> str:
        """Name of the model."""
        ...

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """Names of the parameters, in order."""
        ...

    def cd_m2(self, parameters: Floats, share: Floats) -> Floats:
        """Luminance at shares (n,)."""
        ...

    def slopes(self, parameters: Floats, share: Floats) -> Floats:
        """Derivatives by each parameter, shape (n, p)."""
        ...


@dataclass(frozen=True)
class Curve:
    """A fitted channel: shape, parameters (p,), covariance (p, p), the meter's noise.

    `free` is the number of parameters that the readings decided.
    """

    shape: Shape
    parameters: Floats
    covariance: Floats
    free: int
    noise: Noise

    def cd_m2(self, share: ArrayLike) -> Floats:
        """Luminance at shares of the top code; raises InputError outside 0..1: no guessing."""
        return self.shape.cd_m2(self.parameters, measured_range(share))

    def slopes(self, share: ArrayLike) -> Floats:
        """Derivatives of the luminance by the parameters, shape (n, p)."""
        return self.shape.slopes(self.parameters, measured_range(share))

    def standard_cd_m2(self, share: ArrayLike) -> Floats:
        """Standard uncertainty of the luminance at shares (n,), type A."""
        slopes = self.slopes(share)
        variance = np.einsum("np,pq,nq->n", slopes, self.covariance, slopes)
        return np.asarray(np.sqrt(variance))


def measured_range(share: ArrayLike) -> Floats:
    """Shares as an array, once all are in the range that was measured; raises InputError.

    Any shape.
    """
    given = np.asarray(share, float)
    for extreme in (float(np.min(given)), float(np.max(given))):
        if not 0 <= extreme <= 1:
            raise InputError(
                "code, as a share of the top code",
                extreme,
                "0 to 1, the range that was measured",
                "Ask for a code value of the display.",
            )
    return given
