"""Where a place in the visual field falls on a flat screen.

Lengths on the screen are pixels from the middle of the window (x right, y up; pixel centres lie at
half-integers of an even-sized window) or centimetres from the fixation mark. The eye is on the
axis of the fixation mark, so the projection is that of `protocols.field`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from protocols.errors import InputError, require_within
from protocols.field import Floats, Place, directions, project_cm, unproject_deg
from protocols.grating import patch_frame

DISTANCE_RANGE_CM = (10.0, 300.0)
LENGTH_RANGE_CM = (1.0, 500.0)
SIZE_RANGE_PX = (100, 20000)


@dataclass(frozen=True)
class Screen:
    """The area the window covers, before an eye at `distance_cm`.

    `fixation_x_cm` and `fixation_y_cm` are where the fixation mark stands, from the middle of the
    window. Pixels need not be square. Raises InputError when a value is out of range.

    >>> Screen(1280, 720, 53.0, 29.8125, 35.0).cm_per_px
    (0.04140625, 0.04140625)
    """

    width_px: int
    height_px: int
    width_cm: float
    height_cm: float
    distance_cm: float
    fixation_x_cm: float = 0.0
    fixation_y_cm: float = 0.0

    def __post_init__(self) -> None:
        for name, size in (("width_px", self.width_px), ("height_px", self.height_px)):
            require_within(name, size, *SIZE_RANGE_PX, "Give the size of the window in pixels.")
        for name, length in (("width_cm", self.width_cm), ("height_cm", self.height_cm)):
            require_within(name, length, *LENGTH_RANGE_CM, "Measure the lit area with a ruler.")
        require_within(
            "distance_cm", self.distance_cm, *DISTANCE_RANGE_CM, "Measure from the eye to the mark."
        )
        _require_on_window("fixation_x_cm", self.fixation_x_cm, self.width_cm)
        _require_on_window("fixation_y_cm", self.fixation_y_cm, self.height_cm)

    @property
    def cm_per_px(self) -> tuple[float, float]:
        """Width and height of one pixel, centimetres."""
        return self.width_cm / self.width_px, self.height_cm / self.height_px


def screen_of_width(
    width_px: int, height_px: int, width_cm: float, distance_cm: float, fixation_x_cm: float = 0.0
) -> Screen:
    """A screen of square pixels, of which only the width in centimetres is known.

    Raises InputError for a size out of range.

    >>> screen_of_width(1280, 720, 53.0, 35.0).height_cm
    29.8125
    """
    require_within("width_px", width_px, *SIZE_RANGE_PX, "Give the size of the window in pixels.")
    height_cm = width_cm * height_px / width_px
    return Screen(width_px, height_px, width_cm, height_cm, distance_cm, fixation_x_cm)


def place_to_px(x_deg: ArrayLike, y_deg: ArrayLike, screen: Screen) -> tuple[Floats, Floats]:
    """Pixels from the middle of the window of field places in degrees; any shape.

    Source: plane trigonometry.

    >>> x_px, _ = place_to_px(20.0, 0.0, Screen(1000, 500, 100.0, 50.0, 40.0))
    >>> round(float(x_px), 3)
    145.588
    """
    x_cm, y_cm = project_cm(x_deg, y_deg, screen.distance_cm)
    return cm_to_px(x_cm, y_cm, screen)


def px_to_place(x_px: ArrayLike, y_px: ArrayLike, screen: Screen) -> tuple[Floats, Floats]:
    """Field places in degrees of pixels from the middle of the window: undoes `place_to_px`.

    Any shape.
    """
    x_cm, y_cm = px_to_cm(x_px, y_px, screen)
    return unproject_deg(x_cm, y_cm, screen.distance_cm)


def px_to_cm(x_px: ArrayLike, y_px: ArrayLike, screen: Screen) -> tuple[Floats, Floats]:
    """Centimetres from the fixation mark of pixels from the middle of the window; any shape."""
    x_size, y_size = screen.cm_per_px
    x_cm = np.asarray(x_px, float) * x_size - screen.fixation_x_cm
    return x_cm, np.asarray(y_px, float) * y_size - screen.fixation_y_cm


def cm_to_px(x_cm: ArrayLike, y_cm: ArrayLike, screen: Screen) -> tuple[Floats, Floats]:
    """Pixels from the middle of the window of centimetres from the fixation mark; any shape."""
    x_size, y_size = screen.cm_per_px
    x_px = (np.asarray(x_cm, float) + screen.fixation_x_cm) / x_size
    return x_px, (np.asarray(y_cm, float) + screen.fixation_y_cm) / y_size


def pixel_centres(screen: Screen) -> tuple[Floats, Floats]:
    """Centre of every pixel, from the middle of the window, bottom row first; shape (H, W) each."""
    x = np.arange(screen.width_px) + 0.5 - screen.width_px / 2
    y = np.arange(screen.height_px) + 0.5 - screen.height_px / 2
    x_px, y_px = np.meshgrid(x, y)
    return x_px, y_px


@dataclass(frozen=True)
class Extent:
    """Box around a patch on the screen, in units of the viewing distance, from the mark."""

    left: float
    right: float
    bottom: float
    top: float


def patch_extent(place: Place, radius_deg: float) -> Extent:
    """Box around the outline of a patch: the points at true angle `radius_deg` from its centre.

    A vertical line on the screen is a plane through the eye; it touches the outline where its
    angle with the centre's ray is the radius, which gives the box in closed form. Raises
    InputError where no flat screen, however wide, can hold the patch.

    >>> box = patch_extent(Place(20.0, 0.0), 3.5)
    >>> round(box.right, 6) == round(float(np.tan(np.radians(23.5))), 6)
    True
    """
    x, y, z = directions(place.x_deg, place.y_deg)
    left, right = _touching(x, z, radius_deg, place)
    bottom, top = _touching(y, z, radius_deg, place)
    return Extent(left, right, bottom, top)


def tangent_polygon(place: Place, radius_deg: float, corners: int) -> Floats:
    """Regular polygon of great circles that touch a patch's outline; shape (corners, 2).

    Corners are in units of the viewing distance, from the mark. Straight on a flat screen too, its
    sides hold the whole patch with little to spare.
    """
    around = (np.arange(corners) + 0.5) * 2 * np.pi / corners
    reach = np.tan(np.radians(radius_deg)) / np.cos(np.pi / corners)
    local = np.stack([reach * np.cos(around), reach * np.sin(around), np.ones(corners)], axis=-1)
    rays = local @ patch_frame(place)
    return np.asarray(rays[:, :2] / rays[:, 2:])


def fitting_distance_cm(places: Sequence[Place], patch_radius_deg: float, screen: Screen) -> float:
    """Largest viewing distance, cm, at which every patch lies wholly on the window.

    >>> screen = screen_of_width(1280, 720, 53.0, 35.0)
    >>> round(fitting_distance_cm([Place(20.0, 0.0), Place(-20.0, 0.0)], 3.5, screen), 2)
    60.95
    """
    return min(_place_limit_cm(place, patch_radius_deg, screen) for place in places)


def refuse_off_screen(
    places: Sequence[Place], patch_radius_deg: float, screen: Screen, source: str
) -> None:
    """Raise InputError when a patch falls off the window; `source` names where the places are from.

    The message names the place that needs the shortest distance, and that distance.
    """
    limits = [_place_limit_cm(place, patch_radius_deg, screen) for place in places]
    limit_cm = min(limits)
    if screen.distance_cm <= limit_cm:
        return
    worst = places[limits.index(limit_cm)]
    raise InputError(
        f"{source}: place ({worst.x_deg:.4g}, {worst.y_deg:.4g}) deg at distance_cm",
        screen.distance_cm,
        _allowed_distances(limit_cm),
        _what_would_fit(limit_cm, screen),
    )


def _allowed_distances(limit_cm: float) -> str:
    if limit_cm < DISTANCE_RANGE_CM[0]:
        return "none: the pattern does not fit this screen at any distance"
    return f"{DISTANCE_RANGE_CM[0]:g} to {_floor_mm(limit_cm):.1f} cm on this screen"


def _what_would_fit(limit_cm: float, screen: Screen) -> str:
    size = f"{screen.width_cm:g} x {screen.height_cm:g} cm"
    if limit_cm < DISTANCE_RANGE_CM[0]:
        return f"The lit area is {size}: use a larger screen or a smaller pattern."
    return (
        f"The lit area is {size}: move the eye to {_floor_mm(limit_cm):.1f} cm or nearer, "
        "or use a larger screen."
    )


def _floor_mm(length_cm: float) -> float:
    return float(np.floor(length_cm * 10) / 10)


def _place_limit_cm(place: Place, radius_deg: float, screen: Screen) -> float:
    box = patch_extent(place, radius_deg)
    right, left = screen.width_cm / 2 - screen.fixation_x_cm, screen.width_cm / 2
    top, bottom = screen.height_cm / 2 - screen.fixation_y_cm, screen.height_cm / 2
    rooms = (
        (right, box.right),
        (left + screen.fixation_x_cm, -box.left),
        (top, box.top),
        (bottom + screen.fixation_y_cm, -box.bottom),
    )
    return min(room_cm / need if need > 0 else np.inf for room_cm, need in rooms)


def _touching(
    sideways: float, ahead: float, radius_deg: float, place: Place
) -> tuple[float, float]:
    centre = np.arctan2(sideways, ahead)
    ratio = np.sin(np.radians(radius_deg)) / np.hypot(sideways, ahead)
    half = np.arcsin(ratio) if ratio < 1 else np.pi / 2
    if abs(centre) + half >= np.pi / 2:
        raise InputError(
            "patch",
            f"radius {radius_deg:g} deg at ({place.x_deg:g}, {place.y_deg:g}) deg",
            "wholly below 90 degrees from straight ahead on a flat screen",
            "Move the place towards the fixation mark.",
        )
    return float(np.tan(centre - half)), float(np.tan(centre + half))


def _require_on_window(name: str, offset_cm: float, length_cm: float) -> None:
    reach_cm = length_cm / 2
    require_within(name, offset_cm, -reach_cm, reach_cm, "Keep the fixation mark on the window.")
