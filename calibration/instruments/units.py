"""Units of luminance and what one of each is in cd/m2."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi

from calibration.readings import BRIGHTEST_CD_M2
from protocols.errors import InputError

FOOT_M = 0.3048
"""International foot, metres: exact."""

UNITS_CD_M2: dict[str, float] = {
    "cd/m2": 1.0,
    "nit": 1.0,
    "mcd/m2": 1e-3,
    "kcd/m2": 1e3,
    "fL": 1 / (pi * FOOT_M**2),
    "asb": 1 / pi,
}
"""Foot-lambert and apostilb by their definitions: 1/pi cd/ft2 and 1/pi cd/m2."""


def in_cd_m2(value: float, unit: str, source: str, units: Mapping[str, float]) -> float:
    """A reading in cd/m2; `units` says what one of each unit is.

    Raises InputError, which names `source`, for an unknown unit and for a value that is negative,
    no number, or brighter than any display.

    >>> round(in_cd_m2(10.0, "fL", "meter", UNITS_CD_M2), 4)
    34.2626
    """
    if unit not in units:
        raise InputError(
            f"{source}, unit", unit, ", ".join(units), "Switch the instrument to one of these."
        )
    if not value >= 0:
        raise InputError(
            f"{source}, reading",
            f"{value:g} {unit}",
            "0 or more",
            "Set the instrument's zero with its aperture covered, and measure again.",
        )
    cd_m2 = value * units[unit]
    if cd_m2 > BRIGHTEST_CD_M2:
        raise InputError(
            f"{source}, reading",
            f"{value:g} {unit}",
            f"up to {BRIGHTEST_CD_M2:g} cd/m2",
            "Check the number and its unit, and measure again.",
        )
    return cd_m2
