"""Flash guidance as code: each limit of WCAG 2.2, 2.3.1 and of ITU-R BT.1702, one at a time."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest
from exam_rigs import drive, perfect, plan_of
from hypothesis import given
from hypothesis import strategies as st

from protocols.light import Light, presented_line
from protocols.safety import FlashFacts, assess, grating_flash, patch_area_sr

AREA = "Safety"
SOURCE = "W3C WCAG 2.2, 2.3.1; ITU-R BT.1702"
OVER = FlashFacts(
    area_sr=0.0061,
    screen_share=0.26,
    rate_hz=3.1,
    swing_relative=0.10,
    darker_relative=0.79,
    swing_cd_m2=20.0,
    darker_cd_m2=159.0,
)
WCAG_LIMITS = [
    ("area_sr", 0.006),
    ("rate_hz", 3.0),
    ("swing_relative", 0.099),
    ("darker_relative", 0.80),
]
BT1702_LIMITS = [
    ("screen_share", 0.25),
    ("rate_hz", 3.0),
    ("swing_cd_m2", 19.9),
    ("darker_cd_m2", 160.0),
]


def test_just_over_every_limit_is_over(truth):
    verdict = assess(OVER)
    assert (verdict.over_wcag, verdict.over_bt1702, verdict.over) == (True, True, True)
    found = (verdict.over_wcag, verdict.over_bt1702)
    truth("just over every limit: over WCAG, over BT.1702 (1 is yes)", found, (True, True))


@pytest.mark.parametrize(("fact", "value"), WCAG_LIMITS)
def test_within_any_one_wcag_limit_is_within(truth, fact, value):
    found = assess(replace(OVER, **{fact: value})).over_wcag
    truth(f"WCAG: {fact} of {value:g}, all else over: over (1 is yes)", found, False)


@pytest.mark.parametrize(("fact", "value"), BT1702_LIMITS)
def test_within_any_one_bt1702_limit_is_within(truth, fact, value):
    found = assess(replace(OVER, **{fact: value})).over_bt1702
    assert found is False
    truth(f"BT.1702: {fact} of {value:g}, all else over: over (1 is yes)", found, False)


def test_the_two_rules_look_at_different_things():
    assert assess(replace(OVER, screen_share=0.1)).over_wcag
    assert assess(replace(OVER, area_sr=0.001)).over_bt1702


@pytest.mark.parametrize("fact", ["swing_cd_m2", "darker_cd_m2"])
def test_without_a_measured_luminance_bt1702_cannot_be_told(fact):
    verdict = assess(replace(OVER, **{fact: None}))
    assert verdict.over_bt1702 is None
    assert verdict.over == verdict.over_wcag


def test_a_small_share_of_the_screen_is_within_bt1702_without_any_luminance():
    assert assess(replace(OVER, screen_share=0.2, swing_cd_m2=None)).over_bt1702 is False


@given(st.floats(0.0, 1.0), st.floats(0.1, 0.5), st.floats(1.0, 400.0))
def test_a_counterphase_grating_swings_by_twice_mean_times_contrast(contrast, mean, mean_cd_m2):
    """From L0 (1 + C) to L0 (1 - C) at a bar: 2 L0 C, the darker being L0 (1 - C)."""
    facts = grating_flash(contrast, 3.5, 20.0, 0.02, mean, mean_cd_m2)
    bright, dark = mean * (1 + contrast), mean * (1 - contrast)
    assert facts.swing_relative == pytest.approx(bright - dark)
    assert facts.darker_relative == pytest.approx(dark)
    assert facts.swing_cd_m2 == pytest.approx(mean_cd_m2 * (bright - dark) / mean)
    assert facts.darker_cd_m2 == pytest.approx(mean_cd_m2 * dark / mean)


@pytest.mark.parametrize(("contrast", "over"), [(1.0, True), (0.1, True), (0.0999, False)])
def test_the_usual_patch_is_over_wcag_from_ten_per_cent_contrast_on(contrast, over):
    """On a mean grey of half the maximum the swing is the contrast: 10 % is the limit."""
    assert assess(grating_flash(contrast, 3.5, 20.0, 0.02, 0.5, None)).over_wcag == over


def test_the_blind_spot_target_is_within_at_any_contrast():
    assert patch_area_sr(0.75) < 0.006
    assert not assess(grating_flash(1.0, 0.75, 20.0, 0.001, 0.5, None)).over


@given(st.floats(0.01, 90.0))
def test_a_disc_s_solid_angle_is_that_of_a_cap(radius_deg):
    """Second route: 4 pi sin^2(r/2)."""
    from math import radians, sin

    assert patch_area_sr(radius_deg) == pytest.approx(4 * pi * sin(radians(radius_deg) / 2) ** 2)


def test_every_presentation_records_rate_area_swing_and_verdict():
    plan = plan_of(3, limit_db=26.0)
    light = Light(60.0, 0.827, 0.5, 100.0, 0.3)
    lines = [
        presented_line(plan, shown, light, 1.0, (36, 36, 0)) for shown in drive(plan, perfect).shown
    ]
    by_role = {line.role: line for line in lines}
    assert set(by_role) == {"place", "blind_spot", "blank", "full_contrast"}
    for line in lines:
        wanted = 1.5 / 2 if line.role == "blind_spot" else 3.5
        assert line.area_sr == pytest.approx(patch_area_sr(wanted), abs=1e-6)
        assert line.flicker_hz == 20.0
        assert line.swing_relative == pytest.approx(line.contrast_nominal, abs=1e-6)
        assert line.swing_cd_m2 == pytest.approx(200 * line.contrast_nominal)
    assert (by_role["full_contrast"].over_wcag, by_role["full_contrast"].over_bt1702) == (True,) * 2
    assert (by_role["place"].over_wcag, by_role["place"].over_bt1702) == (False, False)
    assert not by_role["blank"].over_wcag
    assert not by_role["blind_spot"].over_wcag
