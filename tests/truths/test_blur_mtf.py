"""Defocus by geometrical optics: the lesson's figure against worked values.

A uniform disc of blur passes 2 J1(x) / x of a grating, x = pi f diameter. At 0.5 cycles per degree
and a pupil of 3 mm: -0.08, -0.72 and -3.02 dB for 1, 3 and 6 dioptres (computed). The formula is
checked against a disc of points, summed.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from lesson_figures import figure

AREA = "Eye and field"
SOURCE = "Disc of blur by geometrical optics, 2 J1(x)/x (computed)"
blur = figure("blur")


@pytest.mark.parametrize(("dioptres", "published_db"), [(1, -0.08), (3, -0.72), (6, -3.02)])
def test_contrast_lost_to_blur(truth, dioptres, published_db):
    what = f"{dioptres} dioptres of blur, pupil 3 mm, 0.5 c/deg: dB"
    truth(what, blur.blur_db(dioptres, 0.5), published_db, 5e-3)


@pytest.mark.parametrize("dioptres", [1.0, 3.0, 6.0])
def test_a_disc_of_points_gives_the_same(dioptres):
    radius_deg = math.degrees(blur.PUPIL_M * dioptres) / 2
    across = np.linspace(-1, 1, 2001)
    chord = np.sqrt(1 - across**2)
    passed = np.sum(chord * np.cos(2 * np.pi * 0.5 * radius_deg * across)) / np.sum(chord)
    assert 20 * math.log10(passed) == pytest.approx(blur.blur_db(dioptres, 0.5), abs=2e-3)
