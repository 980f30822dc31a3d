"""Horton & Hoyt 1991, Arch Ophthalmol 109:816: linear magnification 17.3 / (E + 0.75) mm a degree.

The lesson on the field shows it; its integral is the distance along the cortex, 17.3 ln((E + 0.75)
/ 0.75), which is the second route.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from lesson_figures import figure

AREA = "Eye and field"
SOURCE = "Horton & Hoyt 1991, Arch Ophthalmol 109:816"
field = figure("field")


@pytest.mark.parametrize(
    ("eccentricity_deg", "mm"), [(0.0, 23.0667), (9.5, 1.6878), (20.0, 0.8337)]
)
def test_magnification(truth, eccentricity_deg, mm):
    what = f"cortex at {eccentricity_deg:g} degrees, mm a degree"
    truth(what, field.cortex_mm_per_deg(eccentricity_deg), mm, 5e-5)


def test_its_integral_is_the_distance_along_the_cortex():
    at = np.linspace(0, 20, 20_001)
    found = np.trapezoid([field.cortex_mm_per_deg(e) for e in at], at)
    assert found == pytest.approx(17.3 * math.log(20.75 / 0.75), rel=1e-5)
