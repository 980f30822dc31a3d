"""Visual-field coordinates: azimuthal-equidistant degrees, a flat screen, two mirrored eyes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocols.errors import InputError
from protocols.field import (
    Place,
    directions,
    for_eye,
    polar_place,
    project_cm,
    separation_deg,
    temporal_sign,
    unproject_deg,
)

eccentricities = st.floats(0.0, 85.0)
polars = st.floats(-180.0, 180.0)
distances = st.floats(10.0, 300.0)
places = st.builds(polar_place, eccentricities, polars)


@given(places, distances)
def test_a_place_survives_the_way_to_the_screen_and_back(place, distance_cm):
    back = unproject_deg(*project_cm(place.x_deg, place.y_deg, distance_cm), distance_cm)
    assert abs(back[0] - place.x_deg) < 1e-9
    assert abs(back[1] - place.y_deg) < 1e-9


@given(places, distances)
def test_offset_on_the_screen_is_distance_times_tangent(place, distance_cm):
    """Plain trigonometry as the second route: d * tan(r) in the place's own direction."""
    x_cm, y_cm = project_cm(place.x_deg, place.y_deg, distance_cm)
    away_cm = distance_cm * math.tan(math.radians(place.eccentricity_deg))
    polar = math.radians(place.polar_deg)
    assert x_cm == pytest.approx(away_cm * math.cos(polar), rel=1e-9, abs=1e-9)
    assert y_cm == pytest.approx(away_cm * math.sin(polar), rel=1e-9, abs=1e-9)


@given(places, distances)
def test_the_ray_to_the_screen_point_points_at_the_place(place, distance_cm):
    x_cm, y_cm = project_cm(place.x_deg, place.y_deg, distance_cm)
    ray = np.array([x_cm, y_cm, distance_cm])
    wanted = directions(place.x_deg, place.y_deg)
    assert ray / np.linalg.norm(ray) == pytest.approx(wanted, abs=1e-12)


def test_the_fixation_mark_is_where_it_is():
    assert project_cm(0.0, 0.0, 40.0) == (0.0, 0.0)
    assert unproject_deg(0.0, 0.0, 40.0) == (0.0, 0.0)


@pytest.mark.parametrize("eccentricity_deg", [90.0, 120.0])
def test_a_flat_screen_ends_before_ninety_degrees(eccentricity_deg):
    with pytest.raises(InputError, match=r"eccentricity: got \d+; allowed: below 90 degrees"):
        project_cm(eccentricity_deg, 0.0, 40.0)


@given(places)
def test_polar_and_cartesian_agree(place):
    again = polar_place(place.eccentricity_deg, place.polar_deg)
    assert again.x_deg == pytest.approx(place.x_deg, abs=1e-9)
    assert again.y_deg == pytest.approx(place.y_deg, abs=1e-9)


@pytest.mark.parametrize(
    ("polar_deg", "x_deg", "y_deg"), [(0, 10, 0), (90, 0, 10), (180, -10, 0), (-90, 0, -10)]
)
def test_polar_angle_runs_counter_clockwise_from_the_right(polar_deg, x_deg, y_deg):
    place = polar_place(10.0, polar_deg)
    assert (place.x_deg, place.y_deg) == pytest.approx((x_deg, y_deg), abs=1e-12)


@given(places)
def test_the_left_eye_is_the_mirror_in_x_and_twice_is_nothing(place):
    left = for_eye(place, "left")
    assert (left.x_deg, left.y_deg) == (-place.x_deg, place.y_deg)
    assert left.eccentricity_deg == place.eccentricity_deg
    assert for_eye(left, "left") == place
    assert for_eye(place, "right") == place


def test_mirroring_leaves_no_negative_zero():
    """A record would show "-0.0" for the centre of the left eye."""
    assert math.copysign(1.0, Place(0.0, 3.0).mirrored.x_deg) == 1.0


def test_temporal_field_is_right_for_the_right_eye_and_left_for_the_left():
    assert temporal_sign("right") == 1
    assert temporal_sign("left") == -1
    blind_spot = Place(15.5, -1.5)
    for eye in ("right", "left"):
        assert for_eye(blind_spot, eye).x_deg * temporal_sign(eye) > 0


@given(places, places)
def test_separation_is_the_angle_between_two_rays(a, b):
    """Second route: the arc cosine of the dot product, good to 1e-6 degrees away from zero."""
    dot = float(np.clip(directions(a.x_deg, a.y_deg) @ directions(b.x_deg, b.y_deg), -1, 1))
    assert separation_deg(a, b) == pytest.approx(math.degrees(math.acos(dot)), abs=2e-6)
    assert separation_deg(a, b) == separation_deg(b, a)


@given(places)
def test_separation_from_the_mark_is_the_eccentricity(place):
    assert separation_deg(Place(0.0, 0.0), place) == pytest.approx(place.eccentricity_deg, abs=1e-9)
