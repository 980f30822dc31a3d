"""Fits of a channel: exact curves come back, odd ones are told apart, nothing is extrapolated."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from calibration.luminance.choose import choose_curve
from calibration.luminance.fit import fitted_channels, lack_of_fit
from calibration.luminance.noise import Noise, noise_of
from calibration.luminance.plan import full_codes
from calibration.luminance.power import SHAPE, fit_power
from calibration.luminance.spline import SplineKind, SplineShape, fit_spline
from calibration.readings import Channel
from protocols.errors import InputError

SHARES = np.repeat(np.array(full_codes(8)) / 255, 2)
GRID = np.linspace(0, 1, 256)


def read(curve, noise: Noise, seed: int) -> Channel:
    light = curve(SHARES)
    rng = np.random.default_rng(seed)
    return Channel("green", SHARES, light + noise.standard(light) * rng.standard_normal(len(light)))


def srgb(share):
    """Luminance of sRGB coded values by `colour-science` (IEC 61966-2-1), 120 cd/m2 at white."""
    return 0.2 + 120 * colour.models.eotf_sRGB(np.asarray(share))


def s_shaped(share):
    """A curve as of a liquid-crystal cell without correction: no power law comes near it."""
    x = np.asarray(share, float)
    return 0.4 + 150 * (0.35 * x**2.2 + 0.65 * x**3 * (10 - 15 * x + 6 * x**2))


@pytest.mark.parametrize("gamma", [1.6, 2.2, 2.8])
@pytest.mark.parametrize("offset", [-0.03, 0.0, 0.05])
def test_an_exact_power_law_comes_back(gamma, offset):
    truth = np.array([0.3, 140.0, offset, gamma])
    channel = Channel("red", SHARES, SHAPE.cd_m2(truth, SHARES))
    found = fit_power(channel, Noise(0.01, 0.01))
    assert found.parameters == pytest.approx(truth, rel=1e-6, abs=1e-7)


def test_slopes_are_the_derivatives():
    at, step = np.array([0.3, 140.0, 0.02, 2.1]), 1e-6
    numeric = [
        (SHAPE.cd_m2(at + step * unit, GRID) - SHAPE.cd_m2(at - step * unit, GRID)) / (2 * step)
        for unit in np.eye(4)
    ]
    assert SHAPE.slopes(at, GRID) == pytest.approx(np.stack(numeric, axis=1), abs=1e-5)


def test_srgb_is_met_within_a_thousandth():
    """Its power part is a power law of offset -0.055; only its dark straight part is not."""
    chosen = choose_curve(read(srgb, Noise(1e-4, 0.001), 1), Noise(1e-4, 0.001))
    off = np.abs(chosen.curve.cd_m2(GRID) - srgb(GRID)) / 120
    print(f"sRGB by {chosen.curve.shape.name}: worst {100 * off.max():.4f} % of maximum")
    assert np.max(off) < 0.001


def test_an_s_shaped_curve_is_given_to_the_spline():
    chosen = choose_curve(read(s_shaped, Noise(0.005, 0.01), 2), Noise(0.005, 0.01))
    print(chosen.cross_validation_rms)
    assert chosen.curve.shape.name == "spline"
    assert chosen.cross_validation_rms["power"] > 2 * chosen.cross_validation_rms["spline"]
    off = np.abs(chosen.curve.cd_m2(GRID) - s_shaped(GRID)) / s_shaped(1.0)
    assert np.max(off) < 0.01


def test_a_power_law_is_left_to_the_power_law():
    """Of 60 noisy channels at most two are mistaken for something else."""
    truth = np.array([0.3, 140.0, 0.02, 2.3])
    noise = Noise(0.01, 0.01)
    names = [
        choose_curve(read(lambda u: SHAPE.cd_m2(truth, u), noise, seed), noise).curve.shape.name
        for seed in range(60)
    ]
    assert names.count("spline") <= 2


def test_a_spline_never_falls():
    for seed in range(10):
        channel = read(s_shaped, Noise(0.05, 0.05), seed)
        noise = Noise(0.05, 0.05)
        spline = fit_spline(channel, fit_power(channel, noise), SplineKind(8, 1.0), noise)
        assert np.all(np.diff(spline.cd_m2(GRID)) >= -1e-12)


def test_spline_basis_rises_from_0_to_1():
    basis = SplineShape(8, 2.2, 0.03, 0.0).basis(GRID)
    assert np.all(np.diff(basis, axis=0) >= -1e-12)
    assert basis[0] == pytest.approx(0.0, abs=1e-12)
    assert basis[-1] == pytest.approx(1.0)


@pytest.mark.parametrize("share", [-0.01, 1.004])
def test_nothing_is_guessed_beyond_what_was_measured(share):
    curve = fit_power(read(srgb, Noise(0.01, 0.01), 3), Noise(0.01, 0.01))
    with pytest.raises(InputError, match=r"code.*allowed: 0 to 1, the range that was measured"):
        curve.cd_m2([0.5, share])


def test_the_meters_noise_is_found_from_residuals():
    rng = np.random.default_rng(12)
    light = np.tile(np.geomspace(0.05, 200, 400), 5)
    truth = Noise(0.013, 0.04)
    squares = (truth.standard(light) * rng.standard_normal(len(light))) ** 2
    found = noise_of(squares, light, Noise(0.05, 0.5))
    assert found.relative == pytest.approx(0.013, rel=0.05)
    assert found.floor_cd_m2 == pytest.approx(0.04, rel=0.08)


def test_readings_without_any_noise_are_fitted_too():
    channels = [Channel(name, SHARES, srgb(SHARES)) for name in ("red", "green", "blue")]
    for chosen in fitted_channels(channels):
        assert np.max(np.abs(chosen.curve.cd_m2(GRID) - srgb(GRID))) < 0.12


def test_spread_of_many_fits_is_the_standard_uncertainty():
    """Two routes: covariance of one fit against the scatter of 200 fits, at every eighth code."""
    truth, noise = np.array([0.3, 140.0, 0.02, 2.3]), Noise(0.015, 0.01)
    fits = [
        fit_power(read(lambda u: SHAPE.cd_m2(truth, u), noise, seed), noise) for seed in range(200)
    ]
    scatter = np.std([fit.cd_m2(GRID[8::8]) for fit in fits], axis=0)
    stated = np.mean([fit.standard_cd_m2(GRID[8::8]) for fit in fits], axis=0)
    assert scatter == pytest.approx(stated, rel=0.2)


def test_a_curve_that_misses_its_readings_is_less_certain():
    channel = read(s_shaped, Noise(0.003, 0.01), 5)
    power = fit_power(channel, Noise(0.003, 0.01))
    assert lack_of_fit(channel, power) > 3
    right = read(srgb, Noise(0.01, 0.01), 5)
    assert lack_of_fit(right, fit_power(right, Noise(0.01, 0.01))) == 1.0


def jumps(share):
    """Two levels only."""
    return 0.4 + 150.0 * (np.asarray(share) > 0.6)


def exponential(share):
    """A power law of endless offset and gamma."""
    return 2.0 + 150 * np.expm1(5 * np.asarray(share)) / np.expm1(5)


def saturating(share):
    """The same the other way round: its offset runs away to the other side."""
    return 0.4 + 150 * -np.expm1(-5 * np.asarray(share)) / -np.expm1(-5)


def logarithmic(share):
    """A power law of gamma 0, with a black without bound."""
    return 0.4 + 150 * np.log1p(100 * np.asarray(share)) / np.log(101)


@pytest.mark.parametrize("curve", [exponential, saturating, logarithmic, np.copy])
@pytest.mark.parametrize("noise", [0.0, 0.003])
def test_a_curve_whose_power_law_runs_away_is_fitted(curve, noise):
    """From code 16 up: below it nothing was read but black."""
    channels = [read(curve, Noise(noise, 0.0), seed) for seed in range(3)]
    for chosen in fitted_channels(channels):
        off = chosen.curve.cd_m2(GRID[16:]) - curve(GRID[16:])
        assert np.max(np.abs(off)) < 0.015 * curve(1.0)
        assert np.all(np.isfinite(chosen.curve.standard_cd_m2(GRID)))


@pytest.mark.parametrize("cd_m2", [1e-3, 1.0, 300.0])
@pytest.mark.parametrize("curve", [jumps, logarithmic, s_shaped])
def test_a_curve_is_the_same_in_every_unit(curve, cd_m2):
    """Light of a thousandth is fitted as light of hundreds is."""
    channel = read(lambda u: curve(u) / curve(1.0), Noise(0.002, 1e-4), 4)
    scaled = Channel("green", channel.share, channel.cd_m2 * cd_m2)
    one, other = (fitted_channels([c])[0].curve for c in (channel, scaled))
    assert other.cd_m2(GRID) / cd_m2 == pytest.approx(one.cd_m2(GRID), abs=1e-3)


def test_eight_readings_are_enough_where_a_spline_wants_more():
    shares = np.round(np.linspace(0, 255, 8)) / 255
    channel = Channel("white", shares, s_shaped(shares))
    assert fitted_channels([channel])[0].curve.shape.name == "power"
