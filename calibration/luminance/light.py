"""A display's light from its fitted channels: each channel's own light, peak, black, and how well.

A reading of one colour holds the black of all three, so the black is common: it is taken as the
weighted mean of the channels' blacks and shared out in proportion to their peaks. How it is shared
changes no grey: the sum over the channels is what was measured. Uncertainties follow from the
covariance of the fits by first-order propagation (GUM 5.1, 5.2), widened for few readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag

from calibration.luminance.choose import Chosen
from calibration.luminance.fit import fitted_channels, freedom, lack_of_fit
from calibration.readings import COLOURS, Readings
from calibration.transfer import CODES
from calibration.uncertainty import student_widening
from protocols.field import Floats

GRID = np.arange(CODES) / (CODES - 1)
LEAST_RISE = 1e-9


@dataclass(frozen=True)
class MeasuredLight:
    """Fitted channels on the 256 codes that the window draws: k channels, three or white alone.

    `screen_cd_m2` (k, 256) is what a meter would read, `slopes` k arrays (256, p) its derivatives
    by the fit's parameters and by each rival in place of the curve, `covariances` k arrays (p, p).
    """

    channels: tuple[Chosen, ...]
    screen_cd_m2: Floats
    slopes: tuple[Floats, ...]
    covariances: tuple[Floats, ...]
    black_weights: Floats

    @property
    def black_cd_m2(self) -> float:
        """Light at code 0 of all channels; no light is below zero."""
        return max(0.0, float(self.black_weights @ self.screen_cd_m2[:, 0]))

    @property
    def rise_cd_m2(self) -> Floats:
        """Light above black of each channel, shape (k, 256)."""
        return self.screen_cd_m2 - self.screen_cd_m2[:, :1]

    @property
    def black_shares(self) -> Floats:
        """Share of the black that each channel is given, shape (k,)."""
        peaks = self.rise_cd_m2[:, -1]
        return np.asarray(peaks / np.sum(peaks))

    @property
    def own_cd_m2(self) -> Floats:
        """Light of each channel with its share of the black, shape (k, 256)."""
        return self.rise_cd_m2 + (self.black_shares * self.black_cd_m2)[:, None]

    @property
    def relative(self) -> Floats:
        """Own light over its maximum, rising with every code, shape (k, 256).

        Codes too dark to tell apart are set one part in 10^9 above each other: a table that can
        be inverted must rise.
        """
        own = self.own_cd_m2 / self.own_cd_m2[:, -1:]
        ramp = LEAST_RISE * np.arange(CODES)
        rising = np.maximum.accumulate(own, axis=1) + ramp
        return np.asarray(rising / rising[:, -1:])

    def standard(self, gradient: Floats) -> float:
        """Standard uncertainty of a linear function of `screen_cd_m2`, gradient (k, 256)."""
        return float(np.linalg.norm(self.parts(gradient)))

    def parts(self, gradient: Floats) -> list[float]:
        """What each channel adds to `standard`."""
        projected = [g @ slopes for g, slopes in zip(gradient, self.slopes, strict=True)]
        return [
            float(np.sqrt(row @ covariance @ row))
            for row, covariance in zip(projected, self.covariances, strict=True)
        ]

    def black_gradient(self) -> Floats:
        """Gradient of `black_cd_m2`, shape (k, 256)."""
        gradient = np.zeros_like(self.screen_cd_m2)
        gradient[:, 0] = self.black_weights
        return gradient

    def grey_gradient(self, codes: Sequence[int]) -> Floats:
        """Gradient of the light at one code of each channel, shape (k, 256)."""
        gradient = self.black_gradient()
        gradient[:, 0] -= 1
        for channel, code in enumerate(codes):
            gradient[channel, code] += 1
        return gradient

    def grey_cd_m2(self, codes: Sequence[int]) -> float:
        """Light of the screen at one code of each channel."""
        at = [self.rise_cd_m2[channel, code] for channel, code in enumerate(codes)]
        return float(np.sum(at)) + self.black_cd_m2

    def relative_standard(self) -> Floats:
        """Standard uncertainty of `relative`, shape (k, 256), other channels' blacks included."""
        return np.array([self._relative_standard(c) for c in range(len(self.channels))])

    def sampled(self, draws: int, rng: np.random.Generator) -> Floats:
        """Invented truths of `screen_cd_m2` that the readings allow, shape (draws, k, 256)."""
        away = [
            _drawn(cov, draws, rng) @ slopes.T
            for slopes, cov in zip(self.slopes, self.covariances, strict=True)
        ]
        return np.stack(away, axis=1) + self.screen_cd_m2

    def _relative_standard(self, channel: int) -> Floats:
        own, relative = self.own_cd_m2[channel], self.relative[channel]
        shared = self.black_shares[channel] * self.black_weights
        variance = np.zeros(CODES)
        for other, (slopes, cov) in enumerate(zip(self.slopes, self.covariances, strict=True)):
            ends = shared[other] * slopes[0] * (1 - relative)[:, None]
            if other == channel:
                rise = slopes - slopes[0]
                ends = ends + rise - relative[:, None] * rise[-1]
            scaled = ends / own[-1]
            variance += np.einsum("np,pq,nq->n", scaled, cov, scaled)
        return np.sqrt(variance)


def _drawn(covariance: Floats, draws: int, rng: np.random.Generator) -> Floats:
    """Normal errors of this covariance (p, p), shape (draws, p).

    Drawn in standard deviations of each: beside a large one a small one is lost in rounding.
    """
    spread = np.sqrt(np.diag(covariance))
    unit = np.where(spread > 0, spread, 1.0)
    correlation = covariance / np.outer(unit, unit)
    middle = np.zeros(len(unit))
    return rng.multivariate_normal(middle, correlation, size=draws, method="eigh") * unit


def measured_light(readings: Readings) -> MeasuredLight:
    """Fit every channel of checked readings; raises InputError where a fit fails."""
    names = COLOURS if readings.coloured else ("white",)
    chosen = fitted_channels([readings.channel(name) for name in names])
    widening = student_widening(freedom([c.channel for c in chosen], [c.curve for c in chosen]))
    covariances = tuple(
        c.curve.covariance * (widening * lack_of_fit(c.channel, c.curve)) ** 2 for c in chosen
    )
    return light_of_channels(chosen, covariances)


def light_of_channels(
    chosen: tuple[Chosen, ...], covariances: tuple[Floats, ...]
) -> MeasuredLight:
    """The light of fitted channels whose parameters have these covariances, (p, p) each.

    Parameters in their own units, light in cd/m2.
    """
    slopes = tuple(_slopes(c) for c in chosen)
    screen = np.stack([c.curve.cd_m2(GRID) for c in chosen])
    covariances = tuple(
        block_diag(covariance, np.diag([rival.weight for rival in one.rivals]))
        for one, covariance in zip(chosen, covariances, strict=True)
    )
    return MeasuredLight(chosen, screen, slopes, covariances, _black_weights(slopes, covariances))


def _slopes(chosen: Chosen) -> Floats:
    """By the parameters, then how far each rival lies from the curve, (256, p)."""
    curve = chosen.curve.cd_m2(GRID)
    away = [rival.curve.cd_m2(GRID) - curve for rival in chosen.rivals]
    return np.column_stack([chosen.curve.slopes(GRID), *away])


def _black_weights(slopes: Sequence[Floats], covariances: Sequence[Floats]) -> Floats:
    variances = [s[0] @ cov @ s[0] for s, cov in zip(slopes, covariances, strict=True)]
    precise = 1 / np.maximum(variances, np.finfo(float).tiny)
    return np.asarray(precise / np.sum(precise))
