"""Viewing distance: by hand, or from where a person's blind spot lies on the screen.

By the blind spot: the person covers one eye and looks at the mark. A dot moves sideways, at the
mark's height, towards the open eye's temple until it vanishes and appears again. The borders a and
b, in cm from the mark, lie at angles about the blind spot's centre c:

    atan(a / d) + atan(b / d) = 2 c
    d = (a + b + sqrt((a + b)^2 + 4 a b tan(2c)^2)) / (2 tan(2c))

which for close borders is the familiar d = s / tan(c), s = (a + b) / 2. (Li, Joo, Yeatman &
Reinecke 2020, Scientific Reports 10:904, find distance by such a triangle from the inner border
alone.) c is 15.5 deg with a standard deviation of 1.1 deg between people (Rohrschneider 2004,
IOVS 45:1000). At the mark's height the dot crosses the blind spot 1.5 deg above its centre; the
middle of that chord is still c.

How good is it: the spread between people is 7.5 % of the distance, so the expanded uncertainty is
15 %: 6 cm at 40 cm. No number of repeats makes that less. A tape is ten times better; the
method serves to notice that a distance is badly wrong, or, with a person's own c measured once at
a known distance, to follow that person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.certificate import Quantity
from calibration.samples import rectangular, repeated, series
from protocols.errors import InputError, require_within
from protocols.field import Floats

BLIND_SPOT_CENTRE = Quantity(value=15.5, type_a=0.0, type_b=1.1, unit="deg")
CENTRE_RANGE_DEG = (10.0, 20.0)
DISTANCE_RANGE_CM = (10.0, 300.0)
TAPE_LIMIT_CM = 0.5
LEAST_READINGS = 2
LEAST_SWEEPS_EACH_WAY = 3
WIDTH_RANGE_DEG = (2.0, 10.0)
MOST_SPREAD = 0.2


@dataclass(frozen=True)
class Sweep:
    """One passage of the dot: borders nearer to and further from the mark, cm, and its direction.

    A border is stamped late by the person's reaction: too far out when the dot moves outward, too
    near when it moves inward. Sweeps of both kinds cancel it.
    """

    near_cm: float
    far_cm: float
    outward: bool


def distance_by_hand(readings_cm: ArrayLike) -> Quantity:
    """Distance from eye to mark by tape, cm, from two or more readings (n,).

    Type B: the place of the eye's pupil is known to half a centimetre either way (common practice,
    no published source). Raises InputError for one reading or a distance out of range.

    >>> distance_by_hand([40.0, 40.2]).value
    40.1
    """
    todo = "Measure again from the outer corner of the eye to the mark."
    found = series("readings_cm", readings_cm, LEAST_READINGS, todo)
    for end in (np.min(found), np.max(found)):
        require_within("readings_cm", float(end), *DISTANCE_RANGE_CM, todo)
    return repeated("readings_cm", found, LEAST_READINGS, rectangular(TAPE_LIMIT_CM), "cm")


def distance_by_blind_spot(
    sweeps: Sequence[Sweep], centre_deg: Quantity = BLIND_SPOT_CENTRE
) -> Quantity:
    """Distance from eye to mark, cm, from sweeps of the dot, three or more each way.

    `centre_deg` is the blind spot's angle from the mark with its uncertainty: that of people in
    general, unless this person's own is known. Type A is the spread of the settings within each
    direction; type B the angle's. Raises InputError for too few sweeps either way, borders in the
    wrong order, distances that spread by more than 20 % within a direction, and a blind spot of a
    width that eyes do not have.
    """
    require_within("centre_deg", centre_deg.value, *CENTRE_RANGE_DEG, "Find the blind spot again.")
    outward, inward = (_one_way_cm(sweeps, way, centre_deg.value) for way in (True, False))
    distance_cm = (outward.value + inward.value) / 2
    _refuse_width(sweeps, distance_cm)
    require_within("distance_cm", distance_cm, *DISTANCE_RANGE_CM, "Do the sweeps again.")
    return Quantity(
        value=distance_cm,
        type_a=float(np.hypot(outward.type_a, inward.type_a)) / 2,
        type_b=distance_cm * _relative_by_angle(centre_deg),
        unit="cm",
    )


def border_distance_cm(near_cm: float, far_cm: float, centre_deg: float) -> float:
    """Distance at which two borders lie evenly about the blind spot's centre, cm.

    >>> round(border_distance_cm(11.093, 11.093, 15.5), 2)
    40.0
    """
    double = float(np.tan(np.radians(2 * centre_deg)))
    both = near_cm + far_cm
    return float((both + np.sqrt(both**2 + 4 * near_cm * far_cm * double**2)) / (2 * double))


def blind_spot_caution(distance_cm: Quantity) -> str:
    """What the method's uncertainty means, in words."""
    return (
        f"The blind-spot method gives {distance_cm.value:.1f} cm, but only to within "
        f"{distance_cm.expanded:.1f} cm ({distance_cm.expanded / distance_cm.value:.0%}): blind "
        "spots differ between people. Measure with a tape where you can."
    )


def _relative_by_angle(centre_deg: Quantity) -> float:
    """Relative change of s / tan(c) for a standard uncertainty of c: u / (sin c cos c)."""
    centre = np.radians(centre_deg.value)
    return float(np.radians(centre_deg.standard) / (np.sin(centre) * np.cos(centre)))


def _one_way_cm(sweeps: Sequence[Sweep], outward: bool, centre_deg: float) -> Quantity:
    chosen = [sweep for sweep in sweeps if sweep.outward == outward]
    if len(chosen) < LEAST_SWEEPS_EACH_WAY:
        raise InputError(
            f"sweeps {'outward' if outward else 'inward'}",
            len(chosen),
            f"{LEAST_SWEEPS_EACH_WAY} or more",
            "Sweep both ways, so that the delay of the person's presses cancels.",
        )
    _refuse_disorder(chosen)
    found = np.array([border_distance_cm(s.near_cm, s.far_cm, centre_deg) for s in chosen])
    _refuse_spread(found)
    return repeated("sweeps", found, LEAST_SWEEPS_EACH_WAY, 0.0, "cm")


def _refuse_disorder(sweeps: Sequence[Sweep]) -> None:
    for sweep in sweeps:
        if not 0 < sweep.near_cm < sweep.far_cm < np.inf:
            raise InputError(
                "borders in cm",
                f"{sweep.near_cm:g} and {sweep.far_cm:g}",
                "above 0, the nearer one first",
                "Do the sweep again.",
            )


def _refuse_spread(distances_cm: Floats) -> None:
    spread = float(np.ptp(distances_cm) / np.mean(distances_cm))
    if spread > MOST_SPREAD:
        raise InputError(
            "sweeps, shortest to longest distance",
            f"{spread:.0%}",
            f"up to {MOST_SPREAD:.0%}",
            "Keep the head and the gaze still, slow the dot down, and sweep again.",
        )


def _refuse_width(sweeps: Sequence[Sweep], distance_cm: float) -> None:
    borders = np.array([(sweep.near_cm, sweep.far_cm) for sweep in sweeps])
    angles = np.degrees(np.arctan(borders / distance_cm))
    require_within(
        "blind spot's width in deg",
        float(np.mean(angles[:, 1] - angles[:, 0])),
        *WIDTH_RANGE_DEG,
        "Check which eye is covered, look at the mark, and sweep again.",
    )
