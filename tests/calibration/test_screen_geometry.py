"""Where a place falls on a flat screen, and at which distance a pattern fits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from calibration.geometry import (
    Screen,
    cm_to_px,
    fitting_distance_cm,
    patch_extent,
    pixel_centres,
    place_to_px,
    px_to_cm,
    px_to_place,
    refuse_off_screen,
    screen_of_width,
    tangent_polygon,
)
from protocols.errors import InputError
from protocols.field import Place, polar_place, project_cm, separation_deg, unproject_deg
from protocols.grating import patch_frame
from protocols.library import load_protocol

WIDE = screen_of_width(1920, 1080, 53.0, 35.0)
RINGS19 = load_protocol("screen-19").pattern.for_eye("right")
places = st.builds(polar_place, st.floats(0.0, 70.0), st.floats(-180.0, 180.0))
screens = st.builds(
    Screen,
    st.integers(100, 8000),
    st.integers(100, 8000),
    st.floats(20.0, 200.0),
    st.floats(20.0, 200.0),
    st.floats(10.0, 300.0),
    st.floats(-9.0, 9.0),
    st.floats(-9.0, 9.0),
)


@given(places, screens)
def test_a_place_survives_the_way_to_pixels_and_back(place, screen):
    back = px_to_place(*place_to_px(place.x_deg, place.y_deg, screen), screen)
    assert abs(back[0] - place.x_deg) < 1e-9
    assert abs(back[1] - place.y_deg) < 1e-9


@given(st.floats(-4000, 4000), st.floats(-4000, 4000), screens)
def test_pixels_survive_the_way_to_centimetres_and_back(x_px, y_px, screen):
    assert cm_to_px(*px_to_cm(x_px, y_px, screen), screen) == pytest.approx((x_px, y_px), abs=1e-6)


def test_the_mark_is_in_the_middle_unless_it_was_moved():
    moved = Screen(1920, 1080, 53.0, 29.8125, 35.0, fixation_x_cm=-5.3, fixation_y_cm=2.98125)
    assert place_to_px(0.0, 0.0, WIDE) == (0.0, 0.0)
    assert place_to_px(0.0, 0.0, moved) == pytest.approx((-192.0, 108.0))


def test_pixels_need_not_be_square():
    screen = Screen(1000, 1000, 50.0, 25.0, 40.0)
    x_px, y_px = place_to_px([10.0, 0.0], [0.0, 10.0], screen)
    assert (x_px[0], y_px[1]) == pytest.approx(
        (40 * math.tan(math.radians(10)) / 0.05, 40 * math.tan(math.radians(10)) / 0.025)
    )


def test_pixel_centres_are_half_a_pixel_from_the_edge():
    x_px, y_px = pixel_centres(Screen(200, 100, 20.0, 10.0, 40.0))
    assert x_px.shape == y_px.shape == (100, 200)
    assert (x_px[0, 0], x_px[0, -1], y_px[0, 0], y_px[-1, 0]) == (-99.5, 99.5, -49.5, 49.5)


def _outline(place, radius_deg, points=720):
    """Points of the screen at the true angle from a patch's centre, in viewing distances."""
    around = np.linspace(0, 2 * np.pi, points, endpoint=False)
    r = math.radians(radius_deg)
    local = np.stack(
        [np.sin(r) * np.cos(around), np.sin(r) * np.sin(around), np.full(points, np.cos(r))], -1
    )
    rays = local @ patch_frame(place)
    return rays[:, :2] / rays[:, 2:]


@given(places, st.floats(0.2, 8.0))
def test_the_extent_is_the_box_around_the_drawn_outline(place, radius_deg):
    """Second route: 720 points of the outline, good to the square of half a step."""
    outline = _outline(place, radius_deg)
    box = patch_extent(place, radius_deg)
    found = (*outline.min(axis=0), *outline.max(axis=0))
    size = max(box.right - box.left, box.top - box.bottom)
    assert found == pytest.approx((box.left, box.bottom, box.right, box.top), abs=1e-3 * size)
    assert box.left <= found[0] + 1e-12
    assert box.right >= found[2] - 1e-12


@given(places, st.floats(0.2, 8.0))
def test_points_of_the_outline_are_at_the_radius_seen_from_the_eye(place, radius_deg):
    x_deg, y_deg = unproject_deg(*_outline(place, radius_deg, 16).T, 1.0)
    for x, y in zip(x_deg, y_deg, strict=True):
        assert separation_deg(place, Place(float(x), float(y))) == pytest.approx(
            radius_deg, abs=1e-6
        )


@given(places, st.floats(0.2, 8.0), st.integers(8, 32))
def test_the_polygon_holds_the_whole_patch(place, radius_deg, corners):
    polygon = tangent_polygon(place, radius_deg, corners)
    sides = np.roll(polygon, -1, axis=0) - polygon
    for point in _outline(place, radius_deg, 64):
        to_point = point - polygon
        turn = sides[:, 0] * to_point[:, 1] - sides[:, 1] * to_point[:, 0]
        assert np.all(turn >= -1e-9)


def test_a_patch_that_reaches_ninety_degrees_is_refused():
    with pytest.raises(InputError) as refused:
        patch_extent(Place(77.0, 0.0), 14.0)
    assert str(refused.value) == (
        'patch: got "radius 14 deg at (77, 0) deg"; allowed: wholly below 90 degrees from straight '
        "ahead on a flat screen. Move the place towards the fixation mark."
    )


@given(st.lists(places, min_size=1, max_size=5), st.floats(0.5, 4.0), screens)
def test_the_fitting_distance_is_where_fitting_ends(some, radius_deg, screen):
    """Just inside every outline lies on the window; just outside one does not."""
    limit_cm = fitting_distance_cm(some, radius_deg, screen)
    assume(10.1 < limit_cm < 299)
    for distance_cm, fits in ((limit_cm * 0.999, True), (limit_cm * 1.001, False)):
        assert _all_on_window(some, radius_deg, screen, distance_cm) == fits


def _all_on_window(some, radius_deg, screen, distance_cm):
    for place in some:
        box = patch_extent(place, radius_deg)
        x_cm = np.array([box.left, box.right]) * distance_cm + screen.fixation_x_cm
        y_cm = np.array([box.bottom, box.top]) * distance_cm + screen.fixation_y_cm
        if np.max(np.abs(x_cm)) > screen.width_cm / 2:
            return False
        if np.max(np.abs(y_cm)) > screen.height_cm / 2:
            return False
    return True


@pytest.mark.parametrize(
    ("width_cm", "height_cm", "distance_cm"), [(53.0, 29.8125, 35.0), (59.8, 33.6, 40.0)]
)
def test_rings19_fits_the_screens_the_design_names(width_cm, height_cm, distance_cm):
    """The bundled pattern on a 24-inch screen at 35 cm and on a 27-inch one at 40 cm."""
    screen = Screen(1920, 1080, width_cm, height_cm, distance_cm)
    print(f"{width_cm} cm: fits up to {fitting_distance_cm(RINGS19, 3.5, screen):.2f} cm")
    refuse_off_screen(RINGS19, 3.5, screen, "screen-19")


def test_a_pattern_off_the_screen_is_refused_with_the_place_and_the_distance_that_fits():
    """The one that needs the shortest distance is named."""
    screen = screen_of_width(1920, 1080, 53.0, 50.0)
    three = [Place(0, 0), Place(6, 20), Place(-20, 3)]
    with pytest.raises(InputError) as refused:
        refuse_off_screen(three, 3.5, screen, "mine")
    limit_cm = math.floor(10 * fitting_distance_cm(three, 3.5, screen)) / 10
    assert str(refused.value) == (
        "mine: place (6, 20) deg at distance_cm: got 50; allowed: 10 to "
        f"{limit_cm:.1f} cm on this screen. The lit area is 53 x 29.8125 cm: move the eye to "
        f"{limit_cm:.1f} cm or nearer, or use a larger screen."
    )
    refuse_off_screen(three, 3.5, screen_of_width(1920, 1080, 53.0, limit_cm), "mine")
    with pytest.raises(InputError):
        refuse_off_screen(three, 3.5, screen_of_width(1920, 1080, 53.0, limit_cm + 0.1), "mine")


def test_a_screen_too_small_at_any_distance_is_refused():
    screen = Screen(800, 600, 8.0, 6.0, 40.0)
    with pytest.raises(InputError) as refused:
        refuse_off_screen(RINGS19, 3.5, screen, "screen-19")
    assert str(refused.value).endswith(
        "got 40; allowed: none: the pattern does not fit this screen at any distance. "
        "The lit area is 8 x 6 cm: use a larger screen or a smaller pattern."
    )


BAD_SCREENS = [
    ((50, 720, 53.0, 30.0, 35.0), "width_px: got 50; allowed: 100 to 20000"),
    ((1280, 30000, 53.0, 30.0, 35.0), "height_px: got 30000; allowed: 100 to 20000"),
    ((1280, 720, 0.0, 30.0, 35.0), "width_cm: got 0; allowed: 1 to 500"),
    ((1280, 720, 53.0, math.nan, 35.0), "height_cm: got nan; allowed: 1 to 500"),
    ((1280, 720, 53.0, 30.0, 5.0), "distance_cm: got 5; allowed: 10 to 300"),
    ((1280, 720, 53.0, 30.0, 35.0, 30.0), "fixation_x_cm: got 30; allowed: -26.5 to 26.5"),
    ((1280, 720, 53.0, 30.0, 35.0, 0.0, -16.0), "fixation_y_cm: got -16; allowed: -15 to 15"),
]


@pytest.mark.parametrize(("values", "words"), BAD_SCREENS)
def test_an_impossible_screen_is_refused(values, words):
    with pytest.raises(InputError) as refused:
        Screen(*values)
    assert str(refused.value).startswith(words)


@given(places, st.floats(10.0, 300.0))
def test_pixels_agree_with_the_plain_projection(place, distance_cm):
    screen = screen_of_width(1000, 1000, 100.0, distance_cm)
    x_cm, y_cm = project_cm(place.x_deg, place.y_deg, distance_cm)
    x_px, y_px = place_to_px(place.x_deg, place.y_deg, screen)
    assert (x_px, y_px) == pytest.approx((x_cm * 10, y_cm * 10), rel=1e-12, abs=1e-9)
