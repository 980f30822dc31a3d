"""W3C, Web Content Accessibility Guidelines 2.2, 2.3.1: general flash, area of 0.006 steradian.

0.006 sr is about a quarter of any 10 degree field; as a disc it is 5.0 degrees across. A patch of
7 degrees is 0.0117 sr (computed, 2 pi (1 - cos r)), so at high contrast it is over the limit.
"""

from __future__ import annotations

import math

import pytest

from protocols.errors import InputError
from protocols.library import load_protocol, parse_protocol
from protocols.safety import WCAG_AREA_SR, assess, grating_flash, patch_area_sr
from stimulus.runner import refuse_flash

AREA = "Safety"
SOURCE = "W3C WCAG 2.2, 2.3.1"


def test_the_limit_is_a_disc_of_five_degrees(truth):
    diameter_deg = 2 * math.degrees(math.acos(1 - WCAG_AREA_SR / (2 * math.pi)))
    truth("general flash: area, steradian", WCAG_AREA_SR, 0.006)
    truth("the same as a disc, degrees across (computed)", diameter_deg, 5.0, 0.05)
    assert patch_area_sr(diameter_deg / 2) == pytest.approx(0.006)


def test_the_limit_is_a_quarter_of_a_ten_degree_field():
    field_sr = math.radians(10) ** 2 * math.pi / 4
    assert pytest.approx(0.25, abs=0.005) == 0.006 / field_sr


def test_the_usual_patch_is_0_0117_steradian(truth):
    truth("a patch of 7 degrees, steradian (computed)", patch_area_sr(3.5), 0.0117, 5e-5)


@pytest.mark.parametrize(("diameter_deg", "over"), [(7.0, True), (5.1, True), (4.9, False)])
def test_what_is_over_the_limit_at_full_contrast(diameter_deg, over):
    facts = grating_flash(1.0, diameter_deg / 2, 20.0, 0.01, 0.5, None)
    assert assess(facts).over_wcag == over


@pytest.mark.parametrize("name", ["screen-17", "screen-19"])
def test_bundled_protocols_state_why_they_exceed_it(name):
    protocol = load_protocol(name)
    refuse_flash(protocol)
    assert "photosensitivity" in protocol.settings.safety.override_reason


@pytest.mark.parametrize("reason", ["", "   "])
def test_without_a_reason_an_exam_is_refused(reason, tmp_path):
    protocol = load_protocol("screen-19")
    stated = protocol.settings.safety.override_reason
    silent = parse_protocol(protocol.text.replace(stated, reason), "mine.toml", tmp_path)
    with pytest.raises(InputError, match=r"safety\.override_reason: got .*allowed: a reason in wo"):
        refuse_flash(silent)
