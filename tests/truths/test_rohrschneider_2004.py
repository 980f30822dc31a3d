"""Rohrschneider 2004, Investigative Ophthalmology & Visual Science 45:1000: the blind spot.

Its centre lies 15.5 +- 1.1 degrees temporal and 1.5 +- 0.9 below fixation; it is about 5 to 7
degrees wide and 7.5 to 10 high.
"""

from __future__ import annotations

import pytest

from protocols.field import EYES, Place, for_eye
from protocols.library import load_protocol
from protocols.pattern import BLIND_SPOT_HALF_SIZE_DEG, BLIND_SPOT_PLACE, on_blind_spot
from protocols.plan import ExamPlan

AREA = "Eye and field"
SOURCE = "Rohrschneider 2004, IOVS 45:1000"

PROTOCOLS = pytest.mark.parametrize("name", ["screen-17", "screen-19"])


def test_the_place_is_the_published_mean(truth):
    found = (BLIND_SPOT_PLACE.x_deg, BLIND_SPOT_PLACE.y_deg)
    truth("blind spot: degrees temporal and up", found, (15.5, -1.5))


def test_the_size_is_within_the_published_range(truth):
    width, height = (2 * half for half in BLIND_SPOT_HALF_SIZE_DEG)
    truth.inside("blind spot: width, degrees", width, 5, 7)
    truth.inside("blind spot: height, degrees", height, 7.5, 10)


@PROTOCOLS
@pytest.mark.parametrize("eye", EYES)
def test_the_fixation_target_is_shown_there_on_the_temporal_side(name, eye):
    plan = ExamPlan(load_protocol(name), (eye,), {}, 0)
    assert plan.blind_spot(eye) == for_eye(Place(15.5, -1.5), eye)


@PROTOCOLS
def test_the_fixation_target_stays_inside_two_sd_off_the_mean(name):
    """Worst case of 2 SD across and down at once, the smallest blind spot, a 1.5 degree target."""
    radius = load_protocol(name).settings.blind_spot.target_diameter_deg / 2
    half_width, half_height = 5 / 2, 7.5 / 2
    assert (1.1 * 1 + radius) / half_width < 1
    assert (0.9 * 2 + radius) / half_height < 1


@PROTOCOLS
def test_no_place_of_a_bundled_pattern_lies_on_it(name):
    assert not any(on_blind_spot(place) for place in load_protocol(name).pattern.places)
