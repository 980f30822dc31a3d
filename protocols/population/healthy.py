"""Healthy fields by age: a hill with deviations, all in delivered contrast dB. Invented numbers.

The mean hill is that of the bundled synthetic reference (27 dB at the centre at 20 years, falling
0.15 dB a degree and 0.06 dB a year). About it, people differ in height, in steepness, in smooth
deviations that reach over `LENGTH_DEG`, and from place to place; together an SD of about 2.5 dB.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from protocols.field import Floats, Place

CENTRE_DB = 27.0
FALL_DB_PER_DEG = 0.15
LOSS_DB_PER_YEAR = 0.06
HEIGHT_SD_DB = 1.7
STEEPNESS_SD_DB_PER_DEG = 0.03
SMOOTH_SD_DB = 1.2
LENGTH_DEG = 9.0
"""Distance over which a smooth deviation falls to exp(-1/2) of itself; an assumption."""
PLACE_SD_DB = 1.1


def mean_hill_db(places: Sequence[Place], age_years: Floats) -> Floats:
    """Mean of healthy eyes, shape (people, places)."""
    at_twenty = CENTRE_DB - FALL_DB_PER_DEG * _eccentricity_deg(places)
    return np.asarray(at_twenty - LOSS_DB_PER_YEAR * (age_years[:, None] - 20.0))


def draw_healthy(rng: np.random.Generator, places: Sequence[Place], age_years: Floats) -> Floats:
    """Sensitivities of healthy people of these ages, shape (people, places)."""
    people, count = len(age_years), len(places)
    height = HEIGHT_SD_DB * rng.standard_normal((people, 1))
    steepness = STEEPNESS_SD_DB_PER_DEG * rng.standard_normal((people, 1))
    smooth = SMOOTH_SD_DB * smooth_draws(rng, places, people, LENGTH_DEG)
    rough = PLACE_SD_DB * rng.standard_normal((people, count))
    tilt = steepness * (_eccentricity_deg(places) - 15.0)
    return np.asarray(mean_hill_db(places, age_years) + height + tilt + smooth + rough)


def smooth_draws(
    rng: np.random.Generator, places: Sequence[Place], people: int, length_deg: float
) -> Floats:
    """Standard normal deviations correlated as exp(-d^2 / 2 length^2), shape (people, places)."""
    x = np.array([[place.x_deg, place.y_deg] for place in places])
    squared = ((x[:, None] - x[None]) ** 2).sum(axis=-1)
    kernel = np.exp(-squared / (2 * length_deg**2)) + 1e-9 * np.eye(len(places))
    root = np.linalg.cholesky(kernel)
    # one product a person, so that a row does not depend on how many are drawn with it
    return np.stack([root @ z for z in rng.standard_normal((people, len(places)))])


def _eccentricity_deg(places: Sequence[Place]) -> Floats:
    return np.array([place.eccentricity_deg for place in places])
