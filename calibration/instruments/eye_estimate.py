"""From matches by eye to relative luminance and the exponent of each channel, with uncertainty.

A match says L(solid) = (L(low) + L(high)) / 2. Light that the channel gives at code 0 and the
channel's peak drop out of it, so only relative luminance is found: 0 at code 0, 1 at the top code.

Where L = (code / top)^gamma, a match is a power mean of its two codes. Matches err independently of
each other, since each is made between codes that were really shown, so gamma is fitted to all of
them by weighted least squares. The relative luminance of a matched code hardly needs the curve; its
uncertainty is carried from match to match, as a quarter is matched against a half found before.

Standard uncertainties from few settings are widened so that twice of them still covers 95.45 %: by
half of Student's t at the pooled degrees of freedom (JCGM 100:2008, G.3).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy import stats
from scipy.optimize import minimize_scalar

from calibration.certificate import COVERAGE_FACTOR, Quantity, ReadingLine
from calibration.instruments.eye_match import EyeChannel, Match, Matching
from protocols.errors import InputError, OrderError
from protocols.field import Floats

GAMMA_RANGE = (0.5, 6.0)
AT_END = 1e-3
NOT_COVERED = 0.0455
"""Chance of a normal value beyond twice its standard uncertainty."""

ROUNDING_VARIANCE = 1 / 12
"""Variance of a whole code about the value it stands for, code squared."""


@dataclass(frozen=True)
class EyePoint:
    """Relative luminance of a code, 0 at code 0 and 1 at the top, with its standard uncertainty."""

    channel: EyeChannel
    code: int
    relative: float
    relative_u: float


@dataclass(frozen=True)
class EyeEstimate:
    """A channel by eye: points by code, gamma, and the spread of settings as a share of the code.

    `residual_codes` are match less fit. `inconsistency` is the Birge ratio: about 1 if one power
    curve fits the matches; well above 1, the curve is another one or the matches went wrong.
    """

    channel: EyeChannel
    points: tuple[EyePoint, ...]
    gamma: Quantity
    spread_relative: float
    residual_codes: tuple[float, ...]
    inconsistency: float


def estimate(state: Matching) -> list[EyeEstimate]:
    """Each channel of a finished matching; raises OrderError before the end."""
    if not state.finished:
        raise OrderError(
            f"{len(state.done)} of {state.plan.matches} matches are made: make the rest first."
        )
    top = state.plan.top_code
    return [
        channel_estimate([m for m in state.done if m.channel == channel], top)
        for channel in state.plan.channels
    ]


def channel_estimate(matches: Sequence[Match], top_code: int) -> EyeEstimate:
    """One channel from its matches, in the order they were made.

    Raises InputError if no exponent within `GAMMA_RANGE` fits them.
    """
    spread = _pooled_spread(matches)
    errors = np.array([sqrt(_code_variance(m, spread)) for m in matches])
    gamma = _fitted_gamma(matches, errors)
    residuals = _residuals(gamma, matches)
    ratio = _birge_ratio(residuals / errors)
    wide = few_settings_factor(sum(len(m.settings) - 1 for m in matches))
    error = _gamma_error(gamma, matches, errors) * wide * max(ratio, 1.0)
    return EyeEstimate(
        matches[0].channel,
        _points(matches, gamma, errors * wide, top_code),
        Quantity(value=gamma, type_a=error, type_b=0.0, unit="1"),
        spread,
        tuple(residuals.tolist()),
        ratio,
    )


def reading_lines(found: EyeEstimate, peak_cd_m2: Mapping[EyeChannel, float]) -> list[ReadingLine]:
    """The points as readings, scaled to a peak that somebody gives; black counts as no light.

    By eye alone no cd/m2 are known: with a peak of 1 the readings are relative luminance.
    """
    peak = peak_cd_m2[found.channel]
    return [
        ReadingLine(channel=p.channel, code=p.code, cd_m2=p.relative * peak) for p in found.points
    ]


def power_mean(low: float, high: float, gamma: float) -> float:
    """The code whose luminance is the mean of two, where luminance is a power of the code.

    >>> round(power_mean(0, 255, 2.2), 1)
    186.1
    """
    return float(high * ((1 + (low / high) ** gamma) / 2) ** (1 / gamma))


def few_settings_factor(degrees_of_freedom: int) -> float:
    """What a standard uncertainty is widened by so that a coverage factor of 2 is right.

    >>> round(few_settings_factor(3), 2)
    1.65
    """
    return float(stats.t.isf(NOT_COVERED / 2, degrees_of_freedom)) / COVERAGE_FACTOR


def _pooled_spread(matches: Sequence[Match]) -> float:
    """SD of settings as a share of the code, pooled: a fixed share of luminance is one of code."""
    shares = [np.var(m.settings, ddof=1) / m.mean_code**2 for m in matches]
    return float(np.sqrt(np.mean(shares)))


def _code_variance(match: Match, spread: float) -> float:
    """Variance of the mean setting, code squared: of its settings, but not below that of rounding.

    Settings that all agree share one rounding, which more of them do not average out.
    """
    return max((spread * match.mean_code) ** 2 / len(match.settings), ROUNDING_VARIANCE)


def _residuals(gamma: float, matches: Sequence[Match]) -> Floats:
    return np.array([m.mean_code - power_mean(m.low, m.high, gamma) for m in matches])


def _fitted_gamma(matches: Sequence[Match], errors: Floats) -> float:
    def misfit(gamma: float) -> float:
        return float(np.sum(np.square(_residuals(gamma, matches) / errors)))

    found = float(minimize_scalar(misfit, bounds=GAMMA_RANGE, options={"xatol": 1e-7}).x)
    low, high = GAMMA_RANGE
    if not low + AT_END < found < high - AT_END:
        raise InputError(
            f"matches of {matches[0].channel}",
            "codes " + ", ".join(f"{m.mean_code:g}" for m in matches),
            f"codes that an exponent between {low:g} and {high:g} gives",
            "Sit further away so that the pattern melts together, and match again.",
        )
    return found


def _gamma_error(gamma: float, matches: Sequence[Match], errors: Floats) -> float:
    step = 1e-4 * gamma
    rise = _residuals(gamma - step, matches) - _residuals(gamma + step, matches)
    return float(1 / np.linalg.norm(rise / (2 * step) / errors))


def _birge_ratio(normed: Floats) -> float:
    """Root of chi-square by its degrees of freedom; 1 where there are none."""
    free = len(normed) - 1
    return float(np.linalg.norm(normed) / sqrt(free)) if free else 1.0


def _points(
    matches: Sequence[Match], gamma: float, errors: Floats, top_code: int
) -> tuple[EyePoint, ...]:
    """Each code's luminance as a number and as shares of every match's own error."""
    level = {0: 0.0, top_code: 1.0}
    share = {code: np.zeros(len(matches)) for code in level}
    for i, match in enumerate(matches):
        middle = (level[match.low] + level[match.high]) / 2
        code = match.solid
        level[code] = middle * float((code / match.mean_code) ** gamma)
        share[code] = (share[match.low] + share[match.high]) / 2
        share[code][i] += gamma * middle / match.mean_code * errors[i]
    channel = matches[0].channel
    return tuple(
        EyePoint(channel, code, level[code], float(np.linalg.norm(share[code])))
        for code in sorted(level)
    )
