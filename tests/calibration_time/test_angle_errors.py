"""Visual-angle errors from a wrong distance, a shifted head, a tilted screen: closed forms."""

from __future__ import annotations

from math import atan2, cos, degrees, radians, sin, tan

import numpy as np
import pytest
from made_traces import words

from calibration.angles import (
    Pose,
    distance_warning,
    error_map,
    field_grid,
    geometry_part,
    pose_warnings,
)
from calibration.certificate import Quantity
from protocols.errors import InputError


def cm(value: float, type_a: float = 0.0, type_b: float = 0.1) -> Quantity:
    return Quantity(value=value, type_a=type_a, type_b=type_b, unit="cm")


def seen_x(x_deg: float, pose: Pose, drawn_for_cm: float = 40.0) -> float:
    return float(error_map([x_deg], [0.0], drawn_for_cm, pose).seen_x_deg[0])


def test_all_as_taken_is_no_error():
    seen = error_map(*field_grid(23.5), 40.0, Pose(40.0))
    assert seen.worst_deg < 1e-9
    assert np.nanmax(seen.off_axis_deg) == pytest.approx(23.5)


@pytest.mark.parametrize("x_deg", [-20.0, -5.0, 0.0, 10.0, 23.5])
def test_a_wrong_distance_has_its_closed_form(x_deg):
    expected = degrees(atan2(40 * tan(radians(x_deg)), 43))
    assert seen_x(x_deg, Pose(43.0)) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("x_deg", [-20.0, 0.0, 10.0])
def test_a_head_shift_has_its_closed_form(x_deg):
    """The angle at an eye 3 cm to the right between the ray to the place and that to the mark."""
    expected = degrees(atan2(40 * tan(radians(x_deg)) - 3, 40) - atan2(-3, 40))
    assert seen_x(x_deg, Pose(40.0, right_cm=3.0)) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("turn_deg", [-10.0, 4.0, 20.0])
@pytest.mark.parametrize("x_deg", [-20.0, 0.0, 15.0])
def test_a_turned_screen_has_its_closed_form(x_deg, turn_deg):
    p, turn = 40 * tan(radians(x_deg)), radians(turn_deg)
    expected = degrees(atan2(p * cos(turn), 40 + p * sin(turn)))
    assert seen_x(x_deg, Pose(40.0, turn_deg=turn_deg)) == pytest.approx(expected, abs=1e-9)


def test_tipping_is_turning_seen_from_the_side():
    tipped = error_map([0.0], [15.0], 40.0, Pose(40.0, tip_deg=8.0))
    turned = error_map([15.0], [0.0], 40.0, Pose(40.0, turn_deg=8.0))
    assert tipped.seen_y_deg == pytest.approx(turned.seen_x_deg)
    assert tipped.seen_x_deg == pytest.approx([0.0], abs=1e-12)


def test_a_shift_along_an_arc_with_the_screen_turned_after_it_is_no_error():
    """An eye moved round the mark, the screen turned to face it, sees the same picture."""
    turn = radians(12.0)
    pose = Pose(40 * cos(turn), right_cm=-40 * sin(turn), turn_deg=-12.0)
    assert error_map(*field_grid(20.0), 40.0, pose).worst_deg < 1e-9
    assert pose.tilt_deg < 1e-5
    assert Pose(40 * cos(turn), right_cm=-40 * sin(turn), turn_deg=12.0).tilt_deg > 20


def test_the_error_is_the_true_angle_between_meant_and_seen():
    seen = error_map([20.0], [0.0], 40.0, Pose(42.0))
    assert seen.error_deg[0] == pytest.approx(20.0 - seen.seen_x_deg[0])


def test_the_grid_is_round():
    x, y = field_grid(20.0, 21)
    assert x.shape == y.shape == (21, 21)
    assert np.isnan(x[0, 0])
    assert np.nanmax(np.hypot(x, y)) == pytest.approx(20.0)


def test_a_good_pose_has_no_warnings():
    assert pose_warnings(23.5, 40.0, Pose(40.3, 0.3, -0.3, 1.0, 1.0)) == []


def test_a_wrong_distance_is_named():
    (said,) = pose_warnings(23.5, 40.0, Pose(43.0))
    assert said == (
        "Places are up to 1.5 deg from where they should be (limit 0.5 deg), most of all by the "
        "distance: set it right, or measure anew."
    )


def test_a_shifted_head_is_named():
    said = pose_warnings(23.5, 40.0, Pose(40.0, right_cm=3.0))
    assert said[0].endswith("most of all by the shift of the head: set it right, or measure anew.")


def test_a_tilted_screen_is_named_by_its_angle():
    said = pose_warnings(23.5, 40.0, Pose(40.0, turn_deg=12.0))
    assert "most of all by the tilt of the screen" in said[0]
    assert said[1] == (
        "The screen stands 12 deg off square to the line of sight (limit 5 deg): turn it until it "
        "faces the eye."
    )
    assert said[2] == (
        "Parts of the field are seen 33 deg off the screen's axis (limit 30 deg), where many "
        "panels change in luminance and contrast: measure luminance there from the place of the "
        "eye."
    )


def test_the_uncertainty_of_the_distance_is_turned_into_degrees():
    assert distance_warning(23.5, cm(40.0, type_b=0.3)) == ""
    assert distance_warning(20.0, cm(40.0, type_b=3.0)) == (
        "The distance is known to within 6.0 cm: places at 20 deg may be 3.2 deg out (limit 0.5 "
        "deg). Measure it with a tape, and use a chin rest."
    )
    assert degrees(atan2(40 * tan(radians(20)), 34)) - 20 == pytest.approx(3.2, abs=0.05)


def test_the_part_joins_sizes_distance_and_warnings():
    part = geometry_part(
        (cm(53.0), cm(29.8)),
        cm(40.0),
        ("card", "tape"),
        23.5,
        Pose(40.0, turn_deg=12.0),
        (1.0, 0.0),
    )
    assert (part.width_cm.value, part.distance_cm.value, part.fixation_x_cm) == (53.0, 40.0, 1.0)
    assert (part.size_method, part.distance_method) == ("card", "tape")
    assert len(part.warnings) == 3
    assert geometry_part((cm(53.0), cm(29.8)), cm(40.0), ("card", "tape"), 23.5).warnings == []


@pytest.mark.parametrize(
    ("pose", "said"),
    [
        ({"distance_cm": 5.0}, "distance_cm: got 5; allowed: 10 to 300."),
        ({"distance_cm": 40.0, "right_cm": 31.0}, "right_cm: got 31; allowed: -30 to 30."),
        ({"distance_cm": 40.0, "up_cm": -31.0}, "up_cm: got -31; allowed: -30 to 30."),
        ({"distance_cm": 40.0, "turn_deg": 46.0}, "turn_deg: got 46; allowed: -45 to 45."),
        ({"distance_cm": 40.0, "tip_deg": -46.0}, "tip_deg: got -46; allowed: -45 to 45."),
    ],
)
def test_a_pose_out_of_range_is_refused(pose, said):
    assert words(lambda: Pose(**pose)) == f"{said} Measure where eye and screen are."


def test_a_field_or_distance_out_of_range_is_refused():
    assert words(lambda: field_grid(70.0)) == (
        "radius_deg: got 70; allowed: 1 to 60. Give the pattern's edge."
    )
    assert words(lambda: field_grid(20.0, 2)) == (
        "across: got 2; allowed: 3 to 1001. Give how many places the grid has a side."
    )
    assert words(lambda: error_map([1.0], [0.0], 4.0, Pose(40.0))) == (
        "drawn_for_cm: got 4; allowed: 10 to 300. Give it in centimetres."
    )
    with pytest.raises(InputError, match="below 90 degrees on a flat screen"):
        error_map([95.0], [0.0], 40.0, Pose(40.0))
