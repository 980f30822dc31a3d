"""What a faulty set-up does: each fault against plain trigonometry, photometry or arithmetic."""

from __future__ import annotations

from math import atan, cos, degrees, pi, radians, sin, tan

import numpy as np
import pytest
from case_rigs import room_of

from protocols.cases.file import EyeTruth, Shape
from protocols.cases.setups import (
    MEANT_DISTANCE_CM,
    BrightRoom,
    NoFault,
    OtherEyeOpen,
    TiltedHead,
    UncalibratedScreen,
    WrongDistance,
    contrast_left,
    met_contrast,
    met_place,
    seeing_eyes,
    size_gain_db,
)
from protocols.cases.sitter import press_times_s
from protocols.field import Place
from protocols.population.draw import SHAPES
from protocols.presentation import Presentation
from stimulus.virtual_exam import virtual_display


def test_the_distance_is_that_of_the_display_in_the_record():
    assert virtual_display(room_of().protocol).distance_cm == MEANT_DISTANCE_CM


def test_shapes_a_teacher_may_write_are_the_generators():
    assert Shape.__args__ == SHAPES


@pytest.mark.parametrize("distance_cm", [20.0, 35.0, 50.0, 90.0])
@pytest.mark.parametrize("r_deg", [9.5, 20.0, 23.5])
def test_a_wrong_distance_moves_places_by_the_tangent(distance_cm, r_deg):
    """Plain trigonometry: the mark's offset on the screen stays, the angle does not."""
    met = met_place(WrongDistance(distance_cm), Place(0.0, r_deg))
    offset_cm = 35.0 * tan(radians(r_deg))
    assert met.y_deg == pytest.approx(degrees(atan(offset_cm / distance_cm)), abs=1e-9)
    assert met.x_deg == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("distance_cm", [20.0, 70.0])
@pytest.mark.parametrize("r_deg", [0.0, 9.5, 20.0])
def test_the_size_at_a_wrong_distance_is_that_of_its_corners(distance_cm, r_deg):
    """Second route: the angles of four points a tenth of a degree round the place."""
    step = 0.1
    corners = [Place(r_deg + step, 0.0), Place(r_deg - step, 0.0),
               Place(r_deg, step), Place(r_deg, -step)]  # fmt: skip
    east, west, north, south = (met_place(WrongDistance(distance_cm), c) for c in corners)
    radial = np.hypot(east.x_deg - west.x_deg, east.y_deg - west.y_deg) / (2 * step)
    middle = met_place(WrongDistance(distance_cm), Place(r_deg, 0.0))
    across = (north.y_deg - south.y_deg) / (2 * step)
    if r_deg:  # degrees round a circle are narrower by sin(r)/r than on the flat chart
        chart = (np.sin(np.radians(middle.x_deg)) / np.radians(middle.x_deg)) / (
            np.sin(np.radians(r_deg)) / np.radians(r_deg)
        )
        across *= chart
    grows = np.sqrt(radial * across)
    expected = 10 * np.log10(grows) + 1.5 * np.log2(grows)
    got = size_gain_db(WrongDistance(distance_cm), Place(r_deg, 0.0))
    assert got == pytest.approx(expected, abs=0.01)


def test_no_fault_changes_nothing():
    place = Place(12.0, -7.0)
    for set_up in (NoFault(), OtherEyeOpen()):
        assert met_place(set_up, place) == place
        assert met_contrast(set_up, 0.3) == 0.3
        assert size_gain_db(set_up, place) == 0.0
    same = met_place(WrongDistance(35.0), place)
    assert (same.x_deg, same.y_deg) == pytest.approx((12.0, -7.0))


def test_light_on_the_screen_takes_contrast_by_lamberts_law():
    """5000 lux on 4 % reflectance: 5000 x 0.04 / pi = 63.7 cd/m2 on top of 60."""
    added = 5000 * 0.04 / pi
    assert contrast_left(5000.0) == pytest.approx(60 / (60 + added))
    high, low = 60 * 1.2 + added, 60 * 0.8 + added
    assert met_contrast(BrightRoom(5000.0), 0.2) == pytest.approx((high - low) / (high + low))


@pytest.mark.parametrize("exponent", [0.45, 1.0, 2.2])
def test_an_uncalibrated_screen_gives_the_michelson_contrast_of_its_power_law(exponent):
    bright, dark = 0.55**exponent, 0.45**exponent
    got = met_contrast(UncalibratedScreen(exponent), 0.1)
    assert got == pytest.approx((bright - dark) / (bright + dark))
    small = met_contrast(UncalibratedScreen(exponent), 1e-4)
    assert small == pytest.approx(exponent * 1e-4, rel=1e-6)  # its derivative at the mean
    assert met_contrast(UncalibratedScreen(exponent), 1.0) == 1.0
    assert met_contrast(UncalibratedScreen(exponent), 0.0) == 0.0


def test_a_head_tilted_to_the_right_turns_the_field_counter_clockwise_less_a_tenth():
    met = met_place(TiltedHead(30.0), Place(20.0, 0.0))
    assert (met.x_deg, met.y_deg) == pytest.approx(
        (20 * cos(radians(27.0)), 20 * sin(radians(27.0)))
    )
    assert met_place(TiltedHead(30.0), Place(3.0, 4.0)).eccentricity_deg == pytest.approx(5.0)


def test_an_open_eye_sees_too():
    assert seeing_eyes(OtherEyeOpen(), "left") == ("left", "right")
    assert seeing_eyes(NoFault(), "left") == ("left",)


def shown(place: Place, role="place", contrast=0.9) -> Presentation:
    return Presentation(0, "right", role, False, place, 0, None, contrast, 0.0, 0.5)


def share_seen(room, presentation: Presentation, people: int = 60) -> float:
    """Share of sittings in which one presentation meets a press."""
    from dataclasses import replace

    pressed = 0
    for seed in range(people):
        sitter = replace(room.sitter(), seed=seed)
        pressed += bool(press_times_s(sitter, presentation, 0.83, 0.0, 1.0))
    return pressed / people


SPOT = Place(15.5, -1.5)


@pytest.mark.parametrize(
    ("set_up", "seen"),
    [(NoFault(), False), (WrongDistance(60.0), True), (OtherEyeOpen(), True),
     (TiltedHead(30.0), True), (BrightRoom(2000.0), False)],
)  # fmt: skip
def test_the_blind_spot_tells_of_distance_cover_and_head(set_up, seen):
    share = share_seen(room_of(set_up=set_up), shown(SPOT, "blind_spot"))
    assert (share > 0.8) if seen else (share < 0.1)


def test_the_better_eye_answers_where_both_see():
    """A blind right half-field is seen by a healthy left eye that is not covered."""
    lost = EyeTruth("diffuse", 40.0)
    covered, open_ = room_of(right=lost), room_of(right=lost, set_up=OtherEyeOpen())
    target = shown(Place(0.0, 9.5))
    assert share_seen(covered, target) < 0.1
    assert share_seen(open_, target) > 0.9


def test_the_hidden_field_is_the_generators_at_its_places_and_smooth_between():
    room = room_of(right=EyeTruth("upper_arc", 20.0))
    field = room.truth.fields["right"]
    for place, loss, unusual in zip(field.places, field.loss_db, field.unusual_db, strict=True):
        hill = 27.0 - 0.15 * place.eccentricity_deg - 0.06 * 30
        direct = max(-6.0, hill + unusual - loss)
        assert field.sensitivity_db(place) == pytest.approx(direct, abs=0.6)
    assert field.loss_db.max() == pytest.approx(20.0)
    a, b = (field.sensitivity_db(Place(x, 10.0)) for x in (-5.0, -5.1))
    assert abs(a - b) < 1.5


def test_both_eyes_of_a_person_have_one_hill():
    fields = room_of().truth.fields
    assert np.allclose(fields["right"].truth_db, fields["left"].truth_db)
    assert [p.mirrored for p in fields["right"].places] == list(fields["left"].places)
