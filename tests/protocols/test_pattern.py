"""Patterns: what the bundled ones hold, and what makes one refusable."""

from __future__ import annotations

import math

import pytest

from protocols.errors import InputError
from protocols.field import EYES, Place, separation_deg, temporal_sign
from protocols.library import bundled_patterns, load_protocol
from protocols.pattern import (
    PatternFile,
    Ring,
    on_blind_spot,
    pattern_of,
    refuse_blind_spot,
    refuse_overlap,
)

RINGS19 = load_protocol("screen-19").pattern
RINGS17 = load_protocol("screen-17").pattern
BOTH = pytest.mark.parametrize("pattern", [RINGS19, RINGS17], ids=["rings19", "rings17"])


def _rounded(places):
    return {(round(p.x_deg, 9), round(p.y_deg, 9)) for p in places}


def test_both_patterns_are_bundled():
    assert bundled_patterns() == ["rings17", "rings19"]


def test_rings19_has_a_centre_six_places_at_9_5_and_twelve_at_20_degrees():
    away = [round(place.eccentricity_deg, 9) for place in RINGS19.places]
    assert {r: away.count(r) for r in set(away)} == {0.0: 1, 9.5: 6, 20.0: 12}


def test_rings17_is_rings19_without_the_two_temporal_places_beside_the_blind_spot():
    missing = _rounded(RINGS19.places) - _rounded(RINGS17.places)
    x_deg, y_deg = 20 * math.cos(math.radians(20)), 20 * math.sin(math.radians(20))
    assert missing == {(round(x_deg, 9), round(y_deg, 9)), (round(x_deg, 9), round(-y_deg, 9))}
    assert _rounded(RINGS17.places) < _rounded(RINGS19.places)


@BOTH
def test_upper_and_lower_half_mirror_each_other(pattern):
    flipped = [Place(place.x_deg, -place.y_deg) for place in pattern.places]
    assert _rounded(flipped) == _rounded(pattern.places)


@BOTH
def test_the_left_eyes_places_are_the_right_eyes_in_a_mirror(pattern):
    assert [(-p.x_deg, p.y_deg) for p in pattern.for_eye("left")] == [
        (p.x_deg, p.y_deg) for p in pattern.for_eye("right")
    ]


@pytest.mark.parametrize("eye", EYES)
def test_rings17_leaves_out_the_temporal_side(eye):
    temporal = [p for p in RINGS17.for_eye(eye) if p.x_deg * temporal_sign(eye) > 18]
    nasal = [p for p in RINGS17.for_eye(eye) if p.x_deg * temporal_sign(eye) < -18]
    assert (len(temporal), len(nasal)) == (0, 2)


@BOTH
def test_seven_degree_patches_do_not_touch(pattern):
    nearest = min(
        separation_deg(a, b) for a in pattern.places for b in pattern.places if a is not b
    )
    assert nearest >= 7.0


@BOTH
def test_the_far_edge_is_at_23_5_degrees(pattern):
    assert max(p.eccentricity_deg for p in pattern.places) + 3.5 == pytest.approx(23.5)


def test_overlapping_patches_are_refused_with_both_places_and_their_distance():
    with pytest.raises(InputError) as refused:
        refuse_overlap([Place(0, 0), Place(20, 0), Place(20, 5)], 3.5, "mine.toml")
    assert str(refused.value) == (
        'mine.toml, pattern: got "places (20, 0) deg and (20, 5) deg that are 4.90 degrees apart"; '
        "allowed: at least 7 degrees, so that patches do not overlap. "
        "Move one of them or make the patch smaller."
    )


def test_the_distance_that_counts_is_the_angle_at_the_eye():
    """At 40 degrees a step of 9 in the coordinates is 8.1 degrees seen from the eye: sin(r)/r."""
    apart = [Place(40.0, -4.5), Place(40.0, 4.5)]
    true = separation_deg(*apart)
    assert true == pytest.approx(9 * math.sin(math.radians(40.25)) / math.radians(40.25), abs=0.02)
    refuse_overlap(apart, true / 2 - 0.01, "x")
    with pytest.raises(InputError):
        refuse_overlap(apart, true / 2 + 0.01, "x")


@pytest.mark.parametrize(
    ("place", "refused"),
    [
        (Place(15.5, -1.5), True),
        (Place(15.5 + 3.0, -1.5), True),
        (Place(15.5 + 4.2, -1.5), False),
        (Place(15.5, -1.5 + 5.2), True),
        (Place(15.5, -1.5 + 5.4), False),
        (Place(-15.5, -1.5), False),
    ],
)
def test_the_blind_spot_is_its_mean_size_widened_by_one_sd_of_its_place(place, refused):
    assert on_blind_spot(place) == refused


def test_a_place_on_the_blind_spot_is_refused_and_named():
    with pytest.raises(InputError) as refused:
        refuse_blind_spot([Place(0, 0), Place(15, -2)], "mine.toml")
    assert str(refused.value) == (
        'mine.toml, pattern: got "a place at (15, -2) deg, on the blind spot"; allowed: places '
        "outside the blind spot around (15.5, -1.5) deg of the right eye. "
        "Move the place or leave it out."
    )


def test_a_pattern_without_places_is_refused():
    with pytest.raises(InputError, match=r"places_deg: got .*no place.*Add rings or places_deg"):
        pattern_of(PatternFile(1, "empty"), "empty.toml")


def test_rings_and_single_places_add_up():
    file = PatternFile(1, "mine", rings=[Ring(10.0, [0.0, 90.0])], places_deg=[(-5.0, -5.0)])
    assert _rounded(pattern_of(file, "mine").places) == {(10, 0), (0, 10), (-5, -5)}
