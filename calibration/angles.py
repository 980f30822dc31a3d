"""How far a place is from where it should be, when eye and screen are not as taken.

The window is drawn for an eye on the axis of the fixation mark, at one distance. Let the eye be
nearer or further, shifted sideways, or the screen turned about the mark: the participant still
looks at the mark, and each place is seen at another angle from it. The map holds that error over
the field; the sentences say which cause matters and what to do.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from calibration.certificate import GeometryPart, Quantity
from protocols.errors import require_within
from protocols.field import Floats, Place, directions, project_cm, unproject_deg
from protocols.grating import patch_frame

ERROR_LIMIT_DEG = 0.5
TILT_LIMIT_DEG = 5.0
OFF_AXIS_LIMIT_DEG = 30.0
SHIFT_RANGE_CM = (-30.0, 30.0)
TURN_RANGE_DEG = (-45.0, 45.0)
DISTANCE_RANGE_CM = (10.0, 300.0)
FIELD_RADIUS_RANGE_DEG = (1.0, 60.0)


@dataclass(frozen=True)
class Pose:
    """Where the eye and the screen truly are.

    The eye stands `distance_cm` from the screen's plane before it was turned, shifted right and up
    from the mark's axis. `turn_deg` turns the screen about the upright line through the mark,
    positive with its right side away from the eye; `tip_deg` about the level line, positive with
    its top away. Raises InputError when out of range.
    """

    distance_cm: float
    right_cm: float = 0.0
    up_cm: float = 0.0
    turn_deg: float = 0.0
    tip_deg: float = 0.0

    def __post_init__(self) -> None:
        todo = "Measure where eye and screen are."
        require_within("distance_cm", self.distance_cm, *DISTANCE_RANGE_CM, todo)
        for name, shift in (("right_cm", self.right_cm), ("up_cm", self.up_cm)):
            require_within(name, shift, *SHIFT_RANGE_CM, todo)
        for name, turn in (("turn_deg", self.turn_deg), ("tip_deg", self.tip_deg)):
            require_within(name, turn, *TURN_RANGE_DEG, todo)

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight to the mark and the screen's normal."""
        sight = -_eye_to_mark(self)
        cosine = _turned(np.array([0.0, 0.0, -1.0]), self) @ sight / np.linalg.norm(sight)
        return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


@dataclass(frozen=True)
class ErrorMap:
    """Where places are seen and how far off that is, degrees; all arrays of one shape.

    `error_deg` is the true angle between the place meant and the place seen; `off_axis_deg` the
    angle between the ray to the place and the screen's normal, on which a panel's luminance and
    contrast depend.
    """

    x_deg: Floats = field(repr=False)
    y_deg: Floats = field(repr=False)
    seen_x_deg: Floats = field(repr=False)
    seen_y_deg: Floats = field(repr=False)
    error_deg: Floats = field(repr=False)
    off_axis_deg: Floats = field(repr=False)

    @property
    def worst_deg(self) -> float:
        """The greatest error on the map."""
        return float(np.nanmax(self.error_deg))


def error_map(x_deg: ArrayLike, y_deg: ArrayLike, drawn_for_cm: float, pose: Pose) -> ErrorMap:
    """Error at field places, degrees, any shape, of a window drawn for a distance, seen in a pose.

    Raises InputError for a place 90 degrees out or a distance out of range.

    >>> seen = error_map([20.0], [0.0], 40.0, Pose(42.0))
    >>> round(float(seen.seen_x_deg[0]), 3)
    19.118
    """
    require_within("drawn_for_cm", drawn_for_cm, *DISTANCE_RANGE_CM, "Give it in centimetres.")
    x, y = np.broadcast_arrays(np.asarray(x_deg, float), np.asarray(y_deg, float))
    x_cm, y_cm = project_cm(x, y, drawn_for_cm)
    on_screen = np.stack([x_cm, y_cm, np.zeros(x.shape)], axis=-1)
    rays = _turned(on_screen, pose) + _eye_to_mark(pose)
    rays = rays / np.linalg.norm(rays, axis=-1, keepdims=True)
    seen_x, seen_y = _from_gaze(rays, pose)
    normal = _turned(np.array([0.0, 0.0, 1.0]), pose)
    off_axis = np.degrees(np.arccos(np.clip(rays @ normal, -1.0, 1.0)))
    return ErrorMap(x, y, seen_x, seen_y, _apart_deg(x, y, seen_x, seen_y), off_axis)


def field_grid(radius_deg: float, across: int = 41) -> tuple[Floats, Floats]:
    """A square grid of places over a round field, degrees, (n, n) each; NaN outside the field.

    Raises InputError for a radius or a number out of range.
    """
    require_within("radius_deg", radius_deg, *FIELD_RADIUS_RANGE_DEG, "Give the pattern's edge.")
    require_within("across", across, 3, 1001, "Give how many places the grid has a side.")
    line = np.linspace(-radius_deg, radius_deg, across)
    x, y = np.meshgrid(line, line)
    outside = np.hypot(x, y) > radius_deg + 1e-9
    return np.where(outside, np.nan, x), np.where(outside, np.nan, y)


def pose_warnings(radius_deg: float, drawn_for_cm: float, pose: Pose) -> list[str]:
    """What is wrong with a pose over a field of this radius, in words; empty when all is well.

    Limits: half a degree of error anywhere (a seventh of a 3.5 deg patch's radius), 5 degrees of
    tilt, 30 degrees between a ray and the screen's normal (own choices).
    """
    seen = error_map(*field_grid(radius_deg), drawn_for_cm, pose)
    found = [
        _on_error(seen, radius_deg, drawn_for_cm, pose),
        _on_tilt(pose),
        _on_off_axis(seen),
    ]
    return [sentence for sentence in found if sentence]


def distance_warning(radius_deg: float, distance_cm: Quantity) -> str:
    """What the distance's uncertainty does at the field's edge; empty when below half a degree."""
    edge_cm = distance_cm.value * np.tan(np.radians(radius_deg))
    nearer_cm = max(distance_cm.value - distance_cm.expanded, 1e-9)
    off_deg = float(np.degrees(np.arctan(edge_cm / nearer_cm))) - radius_deg
    if off_deg <= ERROR_LIMIT_DEG:
        return ""
    return (
        f"The distance is known to within {distance_cm.expanded:.1f} cm: places at "
        f"{radius_deg:g} deg may be {off_deg:.1f} deg out (limit {ERROR_LIMIT_DEG:g} deg). Measure "
        "it with a tape, and use a chin rest."
    )


def geometry_part(
    size_cm: tuple[Quantity, Quantity],
    distance_cm: Quantity,
    methods: tuple[str, str],
    radius_deg: float,
    pose: Pose | None = None,
    fixation_cm: tuple[float, float] = (0.0, 0.0),
) -> GeometryPart:
    """The certificate's geometry: width and height, distance, how each was found, warnings.

    `radius_deg` is the field's edge. Without a pose the eye is taken as on the mark's axis.
    """
    warnings = [distance_warning(radius_deg, distance_cm)]
    if pose is not None:
        warnings += pose_warnings(radius_deg, distance_cm.value, pose)
    return GeometryPart(
        width_cm=size_cm[0],
        height_cm=size_cm[1],
        distance_cm=distance_cm,
        fixation_x_cm=fixation_cm[0],
        fixation_y_cm=fixation_cm[1],
        size_method=methods[0],
        distance_method=methods[1],
        warnings=[sentence for sentence in warnings if sentence],
    )


def _on_error(seen: ErrorMap, radius_deg: float, drawn_for_cm: float, pose: Pose) -> str:
    if seen.worst_deg <= ERROR_LIMIT_DEG:
        return ""
    causes = {
        "the distance": Pose(pose.distance_cm),
        "the shift of the head": Pose(drawn_for_cm, pose.right_cm, pose.up_cm),
        "the tilt of the screen": replace(
            Pose(drawn_for_cm), turn_deg=pose.turn_deg, tip_deg=pose.tip_deg
        ),
    }
    grid = field_grid(radius_deg)
    alone = {cause: error_map(*grid, drawn_for_cm, one).worst_deg for cause, one in causes.items()}
    main = max(alone, key=lambda cause: alone[cause])
    return (
        f"Places are up to {seen.worst_deg:.1f} deg from where they should be (limit "
        f"{ERROR_LIMIT_DEG:g} deg), most of all by {main}: set it right, or measure anew."
    )


def _on_tilt(pose: Pose) -> str:
    if pose.tilt_deg <= TILT_LIMIT_DEG:
        return ""
    return (
        f"The screen stands {pose.tilt_deg:.0f} deg off square to the line of sight (limit "
        f"{TILT_LIMIT_DEG:g} deg): turn it until it faces the eye."
    )


def _on_off_axis(seen: ErrorMap) -> str:
    steepest = float(np.nanmax(seen.off_axis_deg))
    if steepest <= OFF_AXIS_LIMIT_DEG:
        return ""
    return (
        f"Parts of the field are seen {steepest:.0f} deg off the screen's axis (limit "
        f"{OFF_AXIS_LIMIT_DEG:g} deg), where many panels change in luminance and contrast: measure "
        "luminance there from the place of the eye."
    )


def _eye_to_mark(pose: Pose) -> Floats:
    return np.array([-pose.right_cm, -pose.up_cm, pose.distance_cm])


def _turned(points: Floats, pose: Pose) -> Floats:
    """Points of the screen's own axes (right, up, away) after turning it; shape (..., 3)."""
    turn, tip = np.radians(pose.turn_deg), np.radians(pose.tip_deg)
    about_up = np.array(
        [[np.cos(turn), 0, -np.sin(turn)], [0, 1, 0], [np.sin(turn), 0, np.cos(turn)]]
    )
    about_level = np.array(
        [[1, 0, 0], [0, np.cos(tip), -np.sin(tip)], [0, np.sin(tip), np.cos(tip)]]
    )
    return np.asarray(points @ (about_up @ about_level).T)


def _from_gaze(rays: Floats, pose: Pose) -> tuple[Floats, Floats]:
    """Field places, degrees, of unit rays for an eye that looks at the mark."""
    right, up, away = _eye_to_mark(pose)
    x_deg, y_deg = unproject_deg(right / away, up / away, 1.0)
    local = rays @ patch_frame(Place(float(x_deg), float(y_deg))).T
    off = np.hypot(local[..., 0], local[..., 1])
    angle = np.degrees(np.arctan2(off, local[..., 2]))
    with np.errstate(invalid="ignore", divide="ignore"):
        scale = np.where(off > 0, angle / off, 0.0)
    return local[..., 0] * scale, local[..., 1] * scale


def _apart_deg(x: Floats, y: Floats, seen_x: Floats, seen_y: Floats) -> Floats:
    a, b = directions(x, y), directions(seen_x, seen_y)
    across = np.linalg.norm(np.cross(a, b), axis=-1)
    return np.asarray(np.degrees(np.arctan2(across, np.sum(a * b, axis=-1))))
