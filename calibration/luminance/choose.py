"""Which model of a channel to believe: both are fitted, cross-validation decides.

Whole code values are left out in turn, never the two ends, and predicted from the rest. Errors
are in standard deviations of the meter's noise, so that dark readings count as much as bright
ones; 1 is as good as the meter. The spline is taken only if it is surely better, by Wilcoxon's
signed ranks of the two errors of each reading (1945, Biometrics Bull 1:80): it needs more
parameters, and slopes suffer first.

Splines of other numbers of pieces often predict nearly as well. How far their light lies from the
chosen one's is part of what is not known: each counts by its predictive likelihood, as the errors
by cross-validation tell it (Geisser & Eddy 1979, J Am Stat Assoc 74:153).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from calibration.luminance.curve import Curve
from calibration.luminance.noise import Noise
from calibration.luminance.power import SHAPE, fit_power, refit_power
from calibration.luminance.spline import SplineKind, fit_spline, spline_shape, spline_steps
from calibration.readings import Channel
from protocols.errors import InputError
from protocols.field import Floats

FOLDS = 5
SURE = 1e-4
LEAST_WEIGHT = 1e-3
KINDS = (SplineKind(4, 1.0), SplineKind(8, 1.0), SplineKind(12, 0.0))
Predict = Callable[[Channel, Floats, Floats], Floats]


@dataclass(frozen=True)
class Rival:
    """A spline of another kind than the one taken, and its share of belief, 0..1."""

    kind: SplineKind
    weight: float
    curve: Curve


@dataclass(frozen=True)
class Chosen:
    """The curve taken, the other one, and the error of each model by cross-validation.

    `rivals` are the splines of other kinds that the readings do not rule out, where one was taken.
    """

    channel: Channel
    curve: Curve
    other: Curve
    spline_kind: SplineKind
    cross_validation_rms: dict[str, float]
    rivals: tuple[Rival, ...] = ()

    @property
    def residual_rms_relative(self) -> float:
        """Root mean square residual as a share of the channel's peak."""
        off = self.channel.cd_m2 - self.curve.cd_m2(self.channel.share)
        return float(np.sqrt(np.mean(off**2)) / self.curve.cd_m2([1.0])[0])


def choose_curve(channel: Channel, noise: Noise) -> Chosen:
    """Fit both models to readings of this noise and choose.

    Raises InputError if the power law cannot be fitted.
    """
    power = fit_power(channel, noise)
    errors = _left_out_errors(
        channel, noise.standard(power.cd_m2(channel.share)), _power_predictor(power)
    )
    splines = _splines(channel, power, power, noise)
    if _surely_better(splines.errors, errors):
        curve, other, rivals = splines.curve, power, splines.rivals
    else:
        curve, other, rivals = power, splines.curve, ()
    rms = {"power": _rms(errors), "spline": _rms(splines.errors)}
    return Chosen(channel, curve, other, splines.kind, rms, rivals)


def refitted(chosen: Chosen, noise: Noise) -> Chosen:
    """The same choice with both models fitted anew for another noise, and the rivals weighed."""
    power = fit_power(chosen.channel, noise)
    if chosen.curve.shape.name == "power":
        spline = _spline_or_power(chosen.channel, power, chosen.spline_kind, noise)
        return replace(chosen, curve=power, other=spline)
    splines = _splines(chosen.channel, power, chosen.curve, noise, chosen.spline_kind)
    return replace(chosen, curve=splines.curve, other=power, rivals=splines.rivals)


@dataclass(frozen=True)
class _Splines:
    """The spline that is taken, its errors (n,) by cross-validation, and its rivals."""

    kind: SplineKind
    curve: Curve
    errors: Floats
    rivals: tuple[Rival, ...]


def _splines(
    channel: Channel, power: Curve, about: Curve, noise: Noise, kind: SplineKind | None = None
) -> _Splines:
    """Splines of all kinds on a power law; the noise at each reading is that at `about`'s light.

    The one of `kind` is taken, else the one that predicts best.
    """
    standard = noise.standard(about.cd_m2(channel.share))
    tried = {
        one: _left_out_errors(channel, standard, _spline_predictor(power, one)) for one in KINDS
    }
    weights = _weights(tried)
    taken = kind or max(weights, key=lambda one: weights[one])
    curves = {one: _spline_or_power(channel, power, one, noise) for one in {taken, *weights}}
    rivals = tuple(Rival(one, weights[one], curves[one]) for one in weights if one != taken)
    return _Splines(taken, curves[taken], tried[taken], rivals)


def _weights(tried: Mapping[SplineKind, Floats]) -> dict[SplineKind, float]:
    """Belief in each kind by its errors in standard deviations; next to none is left out."""
    chi2 = {kind: float(np.sum(errors**2)) for kind, errors in tried.items()}
    likelihood = {kind: np.exp(-0.5 * (one - min(chi2.values()))) for kind, one in chi2.items()}
    total = sum(likelihood.values())
    shares = {kind: float(one / total) for kind, one in likelihood.items()}
    return {kind: share for kind, share in shares.items() if share > LEAST_WEIGHT}


def _spline_or_power(channel: Channel, power: Curve, kind: SplineKind, noise: Noise) -> Curve:
    """The spline, or the power law where the readings are too few to tell the spline's steps."""
    try:
        return fit_spline(channel, power, kind, noise)
    except InputError:
        return power


def _left_out_errors(channel: Channel, standard: Floats, predict: Predict) -> Floats:
    """Errors of readings predicted without their code value, in standard deviations; (n,)."""
    folds = _folds(channel.share)
    errors = []
    for fold in range(FOLDS):
        out = folds == fold
        kept = Channel(channel.name, channel.share[~out], channel.cd_m2[~out])
        predicted = predict(kept, standard[~out], channel.share[out])
        errors.append((channel.cd_m2[out] - predicted) / standard[out])
    return np.concatenate(errors)


def _folds(share: Floats) -> Floats:
    """Fold 0.. of each reading by its code value; -1 for the two ends; shape (n,)."""
    levels = np.unique(share)
    numbers = np.arange(len(levels)) % FOLDS
    numbers[[0, -1]] = -1
    return numbers[np.searchsorted(levels, share)].astype(float)


def _power_predictor(full: Curve) -> Predict:
    def predict(kept: Channel, standard: Floats, at: Floats) -> Floats:
        fit = refit_power(kept, full.parameters, standard)
        return SHAPE.cd_m2(fit.parameters, at)

    return predict


def _spline_predictor(full: Curve, kind: SplineKind) -> Predict:
    shape = spline_shape(full, kind)

    def predict(kept: Channel, standard: Floats, at: Floats) -> Floats:
        steps = spline_steps(kept, shape, full, standard)
        return shape.cd_m2(steps, at)

    return predict


def _rms(errors: Floats) -> float:
    return float(np.sqrt(np.mean(errors**2)))


def _surely_better(errors: Floats, than: Floats) -> bool:
    gain = np.abs(than) - np.abs(errors)
    if not np.any(gain):
        return False
    found = stats.wilcoxon(gain, alternative="greater")
    return bool(found.pvalue < SURE)
