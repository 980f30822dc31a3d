"""Invented populations: seeds, shapes, the healthy hill, and how people answer."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.reference import load_reference, mean_db
from protocols.errors import InputError
from protocols.field import Place
from protocols.library import load_protocol
from protocols.pattern import BLIND_SPOT_PLACE, Pattern
from protocols.population.draw import (
    BLOCK,
    FLOOR_DB,
    MIXED,
    SHAPES,
    draw_answers,
    draw_population,
)
from protocols.population.fibres import TALLEST_DEG, along_arch, arch_height_deg, half_field
from protocols.population.healthy import mean_hill_db, smooth_draws
from protocols.population.losses import LOSSES
from protocols.population.seeing import henson_spread_db, seen_probability, spread_db

AREA = "Eye and field"
SOURCE = "Henson 2000, IOVS 41:417"
PATTERN = load_protocol("screen-19").pattern
FIELDS = ("sensitivity_db", "healthy_db", "shape", "age_years", "spread_factor", "lapse_rate")


def only(shape, people=200, seed=11):
    drawn = draw_population(people, seed, PATTERN, {shape: 1.0})
    return drawn, drawn.healthy_db - drawn.sensitivity_db


def test_same_seed_same_people_and_another_seed_others():
    one, again, other = (draw_population(50, seed, PATTERN) for seed in (3, 3, 4))
    for name in FIELDS:
        assert np.array_equal(getattr(one, name), getattr(again, name))
    assert not np.array_equal(one.sensitivity_db, other.sensitivity_db)


def test_a_small_population_is_the_head_of_a_large_one():
    small, large = (draw_population(n, 3, PATTERN) for n in (BLOCK + 7, 3 * BLOCK))
    for name in FIELDS:
        assert np.array_equal(getattr(small, name), getattr(large, name)[: BLOCK + 7])


def test_the_usual_mix_is_half_healthy_with_every_shape_of_loss():
    people = draw_population(4000, 5, PATTERN)
    counts = np.bincount(people.shape, minlength=len(SHAPES)) / 4000
    expected = np.array([MIXED[shape] for shape in SHAPES])
    four_sigma = 4 * np.sqrt(expected * (1 - expected) / 4000)
    assert np.all(np.abs(counts - expected) < four_sigma)


def test_any_pattern_will_do():
    pattern = Pattern("three", (Place(0, 0), Place(-12, 8), Place(14, -9)))
    people = draw_population(300, 6, pattern)
    assert people.sensitivity_db.shape == (300, 3)
    assert np.isfinite(people.sensitivity_db).all()


@pytest.mark.parametrize(
    ("people", "seed", "mix", "message"),
    [
        (0, 1, MIXED, "people: got 0"),
        (5, -1, MIXED, "seed: got -1"),
        (5, 1, {"healthy": 0.5}, "shares from 0 up that sum to 1"),
        (5, 1, {"healthy": 1.5, "isolated": -0.5}, "shares from 0 up that sum to 1"),
        (5, 1, {"ring": 1.0}, 'mix: got "ring"'),
    ],
)
def test_bad_requests_are_refused(people, seed, mix, message):
    with pytest.raises(InputError) as error:
        draw_population(people, seed, PATTERN, mix)
    assert message in str(error.value)


def test_the_mean_hill_is_that_of_the_bundled_reference():
    reference = load_reference()
    for age in (20, 50, 85):
        expected = mean_db(reference, PATTERN.places, age)
        assert np.allclose(mean_hill_db(PATTERN.places, np.array([float(age)]))[0], expected)


def test_healthy_people_spread_about_the_hill_as_the_reference_says():
    """SD about 2.5 dB, mean error 0: the bundled reference's spread_db."""
    people, loss = only("healthy", 3000)
    away = people.sensitivity_db - mean_hill_db(PATTERN.places, people.age_years)
    assert loss.max() == 0
    assert abs(away.mean()) < 0.15
    assert abs(away.std() - load_reference().file.spread_db) < 0.25


def test_smooth_deviations_have_the_stated_correlation():
    """exp(-d^2 / 2 length^2) at d = 9.5 degrees and a length of 9; 4 SE of a correlation."""
    drawn = smooth_draws(np.random.default_rng(1), PATTERN.places[:2], 4000, 9.0)
    assert abs(np.corrcoef(drawn.T)[0, 1] - np.exp(-(9.5**2) / (2 * 81))) < 4 / np.sqrt(4000)


def test_a_lone_loss_is_deep_and_lone_and_falls_anywhere():
    _, loss = only("isolated", 600)
    deep = loss > 0
    assert (deep.sum(axis=1) == 1).all()
    assert deep.any(axis=0).all()
    assert loss.max(axis=1).min() > 6


@pytest.mark.parametrize(("shape", "side"), [("upper_arc", 1), ("lower_arc", -1)])
def test_an_arc_stays_in_its_half(shape, side):
    _, loss = only(shape)
    half = half_field(PATTERN.places)
    assert np.all(loss[:, half != side] == 0)
    assert (loss > 2).any(axis=1).mean() > 0.95
    assert 1.5 < (loss > 2).sum(axis=1).mean() < 6


@pytest.mark.parametrize("shape", ["nasal_step", "half_field"])
def test_losses_of_one_half_leave_the_other(shape):
    _, loss = only(shape)
    half = half_field(PATTERN.places)
    above, below = (loss[:, half == side].max(axis=1) > 0 for side in (1, -1))
    assert not (above & below).any()
    assert above.any()
    assert below.any()
    assert np.all(loss[:, half == 0] == 0)


def test_a_nasal_step_is_nasal():
    _, loss = only("nasal_step")
    x = np.array([place.x_deg for place in PATTERN.places])
    assert np.all(loss[:, x > 0] == 0)


def test_advanced_loss_spares_the_centre_and_reaches_the_floor():
    people, loss = only("both_arcs")
    centre = np.array([place.eccentricity_deg == 0 for place in PATTERN.places])
    assert loss[:, centre].mean() < 0.2 * loss[:, ~centre].mean()
    assert people.sensitivity_db.min() == FLOOR_DB
    assert (people.sensitivity_db < 0).mean() > 0.1


def test_no_loss_is_a_gain():
    for shape in LOSSES:
        assert only(shape, 100)[1].min() >= 0


def test_arches_are_nested_and_mirror_each_other():
    nasal = [Place(-r, 4.0) for r in (6, 10, 15, 20)]
    heights = arch_height_deg(nasal)
    assert np.all(np.diff(heights) > 0)
    mirrored = [Place(p.x_deg, -p.y_deg) for p in nasal]
    assert np.allclose(arch_height_deg(mirrored), heights)
    assert list(half_field(nasal)) == [1.0] * 4
    assert list(half_field(mirrored)) == [-1.0] * 4


def test_an_arch_passes_over_its_own_top():
    """The top of an ellipse with ends at the disc and -h lies h high at the middle of these."""
    h = 12.0
    top = Place((BLIND_SPOT_PLACE.x_deg - h) / 2, h)
    assert abs(arch_height_deg([top])[0] - h) < 0.8


def test_beyond_the_disc_there_is_no_arch():
    assert arch_height_deg([Place(19.0, 3.0)])[0] == TALLEST_DEG
    shares = along_arch([Place(15.0, 2.0), Place(0.0, 9.0), Place(-18.0, 3.0)])
    assert np.all(np.diff(shares) > 0)


def test_the_seeing_curve_widens_as_henson_found(truth):
    """ln SD = -0.081 s + 3.27, capped at 6 dB: Henson 2000, IOVS 41:417."""
    published = np.exp(-0.081 * 30 + 3.27)
    truth("SD of answers at 30 dB (luminance)", float(henson_spread_db(30.0)), published, 9e-13)
    truth("its cap, dB", float(henson_spread_db(10.0)), 6.0)
    ratio = spread_db(20.0) / spread_db(25.5)
    what = "spread in contrast dB: ratio between 20 and 25.5 dB (transfer assumed)"
    truth(what, float(ratio), np.exp(0.081 * 5.5), 9e-13)


def test_people_answer_by_their_curve_slips_and_spread():
    people = draw_population(4000, 8, PATTERN)
    place = np.full(4000, 3)
    u = np.random.default_rng(2).random(4000)
    seen = draw_answers(people, place, np.full(4000, 20.0), u)
    p = seen_probability(
        20.0,
        people.sensitivity_db[:, 3],
        people.spread_factor,
        people.lapse_rate,
        people.false_press_rate,
    )
    assert abs(seen.mean() - p.mean()) < 4 * np.sqrt((p * (1 - p)).sum()) / 4000
    assert float(seen_probability(0.0, -60.0, 1.0, 0.0, 0.07)) == pytest.approx(0.07)
    assert float(seen_probability(0.0, 40.0, 1.0, 0.05, 0.0)) == pytest.approx(0.95)
