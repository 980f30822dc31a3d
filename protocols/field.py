"""Visual-field coordinates, eyes, mirroring, and the projection onto a flat screen.

A place is written in degrees of visual angle from the fixation mark as the participant sees it:
x to the right, y up. Its distance from the origin is the eccentricity, its direction the polar
angle, counter-clockwise from +x (azimuthal-equidistant coordinates).

On a flat screen with the eye on the axis of the fixation mark, eccentricity r lies d*tan(r) from
the mark, d being the viewing distance: plain trigonometry, no small-angle shortcut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from protocols.errors import InputError

Eye = Literal["right", "left"]
EYES: tuple[Eye, Eye] = ("right", "left")
Floats = NDArray[np.float64]


@dataclass(frozen=True, order=True)
class Place:
    """A location in the visual field, in degrees (x right, y up, as the participant sees it).

    >>> round(Place(3.0, 4.0).eccentricity_deg, 6)
    5.0
    """

    x_deg: float
    y_deg: float

    @property
    def eccentricity_deg(self) -> float:
        """Angle between the place and the fixation mark, degrees."""
        return float(np.hypot(self.x_deg, self.y_deg))

    @property
    def polar_deg(self) -> float:
        """Direction of the place, degrees counter-clockwise from +x, in -180..180."""
        return float(np.degrees(np.arctan2(self.y_deg, self.x_deg)))

    @property
    def mirrored(self) -> Place:
        """The same place for the other eye: mirrored in x."""
        return Place(-self.x_deg + 0.0, self.y_deg)


def other_eye(eye: Eye) -> Eye:
    """The eye that is not this one."""
    return "left" if eye == "right" else "right"


def polar_place(eccentricity_deg: float, polar_deg: float) -> Place:
    """Place at an eccentricity and polar angle, both in degrees.

    >>> polar_place(20.0, 0.0)
    Place(x_deg=20.0, y_deg=0.0)
    """
    angle = np.radians(polar_deg)
    return Place(
        float(eccentricity_deg * np.cos(angle)) + 0.0, float(eccentricity_deg * np.sin(angle)) + 0.0
    )


def for_eye(place: Place, eye: Eye) -> Place:
    """A place written for the right eye, as it stands for `eye` (the left eye is the mirror)."""
    return place if eye == "right" else place.mirrored


def temporal_sign(eye: Eye) -> int:
    """+1 where temporal field is +x (right eye), -1 where it is -x (left eye)."""
    return 1 if eye == "right" else -1


def project_cm(x_deg: ArrayLike, y_deg: ArrayLike, distance_cm: float) -> tuple[Floats, Floats]:
    """Screen offset in cm of field places, any shape; raises InputError at 90 degrees and beyond.

    Source: plane trigonometry.

    >>> x_cm, _ = project_cm(20.0, 0.0, 40.0)
    >>> round(float(x_cm), 4)
    14.5588
    """
    x, y = np.asarray(x_deg, float), np.asarray(y_deg, float)
    r = np.hypot(x, y)
    if np.any(r >= 90):
        raise InputError(
            "eccentricity",
            float(np.max(r)),
            "below 90 degrees on a flat screen",
            "Move the place towards the fixation mark.",
        )
    scale = distance_cm * _tan_over_angle(np.radians(r)) * np.pi / 180
    return x * scale, y * scale


def unproject_deg(x_cm: ArrayLike, y_cm: ArrayLike, distance_cm: float) -> tuple[Floats, Floats]:
    """Field place in degrees of screen offsets in cm: the inverse of `project_cm`.

    >>> x_deg, _ = unproject_deg(14.558809, 0.0, 40.0)
    >>> round(float(x_deg), 4)
    20.0
    """
    x, y = np.asarray(x_cm, float), np.asarray(y_cm, float)
    rho = np.hypot(x, y) / distance_cm
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(rho > 0, np.arctan(rho) / rho, 1.0)
    scale = np.degrees(ratio) / distance_cm
    return x * scale, y * scale


def directions(x_deg: ArrayLike, y_deg: ArrayLike) -> Floats:
    """Unit vectors from the eye (x right, y up, z ahead) of field places; shape (..., 3)."""
    x, y = np.asarray(x_deg, float), np.asarray(y_deg, float)
    r = np.radians(np.hypot(x, y))
    polar = np.arctan2(y, x)
    return np.stack([np.sin(r) * np.cos(polar), np.sin(r) * np.sin(polar), np.cos(r)], axis=-1)


def separation_deg(a: Place, b: Place) -> float:
    """True angle between two places as seen from the eye, degrees.

    >>> round(separation_deg(Place(-10.0, 0.0), Place(20.0, 0.0)), 9)
    30.0
    """
    u, v = directions(a.x_deg, a.y_deg), directions(b.x_deg, b.y_deg)
    cross: Any = np.cross(u, v)
    return float(np.degrees(np.arctan2(np.linalg.norm(cross), u @ v)))


def _tan_over_angle(angle: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(angle > 0, np.tan(angle) / angle, 1.0)
