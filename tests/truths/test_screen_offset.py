"""Plain trigonometry: on a flat screen eccentricity r lies d * tan(r) from the mark.

14.5588 cm at 20 degrees and 40 cm: computed, 40 * tan(20 deg) = 14.558809...
"""

from __future__ import annotations

import math

import pytest

from calibration.geometry import Screen, place_to_px
from protocols.field import polar_place, project_cm

AREA = "Eye and field"
SOURCE = "d tan(r) on a flat screen (computed)"

OFFSET_CM = 14.5588


def test_twenty_degrees_at_forty_centimetres(truth):
    x_cm, y_cm = project_cm(20.0, 0.0, 40.0)
    truth("20 degrees at 40 cm, cm from the mark", float(x_cm), OFFSET_CM, 5e-5)
    assert float(y_cm) == 0.0


@pytest.mark.parametrize("polar_deg", [20, 46, 72, 108, 134, 160, -160, -134, -108, -72, -46, -20])
def test_in_every_direction_of_the_pattern(polar_deg):
    place = polar_place(20.0, polar_deg)
    x_cm, y_cm = project_cm(place.x_deg, place.y_deg, 40.0)
    assert math.hypot(x_cm, y_cm) == pytest.approx(OFFSET_CM, abs=5e-5)
    assert math.degrees(math.atan2(y_cm, x_cm)) == pytest.approx(polar_deg, abs=1e-9)


def test_in_pixels_of_a_tenth_of_a_millimetre(truth):
    x_px, _ = place_to_px(20.0, 0.0, Screen(4000, 2000, 40.0, 20.0, 40.0))
    truth("the same in pixels of 0.1 mm", float(x_px), 100 * OFFSET_CM, 0.005)


def test_a_small_angle_shortcut_would_be_four_per_cent_off():
    """What the check guards against: 40 cm times 20 degrees in radians is 13.96 cm."""
    assert 40 * math.radians(20) < 0.96 * OFFSET_CM
