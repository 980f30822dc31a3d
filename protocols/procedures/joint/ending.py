"""When a place, and with it the exam, has been asked enough, and which rule said so."""

from __future__ import annotations

from typing import Literal

import numpy as np

from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.joint.scale import GRID_DB, STEP_DB

StopReason = Literal["open", "narrow", "graded", "count"]
GRADE_STEPS_DB = (0.0, 4.0, 8.0)
"""Depths below the limit at which the grade changes; below 0 dB it changes once more."""


def narrow(sd_db: Floats, looks: Ints, most_sd_db: float) -> Bools:
    """Places looked at whose SD is small enough."""
    return np.asarray((looks > 0) & (sd_db <= most_sd_db))


def graded(mass: Floats, limits_db: Floats, looks: Ints, certainty: float) -> Bools:
    """Places looked at whose most likely grade is certain enough; never where certainty is 1."""
    if certainty >= 1:
        return np.zeros(looks.shape, np.bool_)
    return np.asarray((looks > 0) & (grade_chances(mass, limits_db).max(axis=-1) >= certainty))


def grade_chances(mass: Floats, limits_db: Floats) -> Floats:
    """Probability of grades 0 to 4 at each place, shape (exams, places, 5)."""
    cuts = [np.maximum(limits_db - step, 0.0) for step in GRADE_STEPS_DB]
    below = [np.ones_like(limits_db), *(_below(mass, cut) for cut in cuts)]
    below += [_below(mass, np.zeros_like(limits_db)), np.zeros_like(limits_db)]
    return np.asarray(np.maximum(-np.diff(np.stack(below, axis=-1), axis=-1), 0.0))


def stop_reasons(narrow_places: Bools, sure_places: Bools, spent: Bools) -> list[StopReason]:
    """Why each exam ended, or that it has not."""
    return [
        "narrow" if n.all() else "graded" if s.all() else "count" if c else "open"
        for n, s, c in zip(narrow_places, sure_places, spent, strict=True)
    ]


def _below(mass: Floats, cut_db: Floats) -> Floats:
    """Probability below a cut, each grid value standing for the cell about it."""
    part = np.clip((cut_db[..., None] - GRID_DB) / STEP_DB + 0.5, 0.0, 1.0)
    return np.asarray((mass * part).sum(axis=-1))
