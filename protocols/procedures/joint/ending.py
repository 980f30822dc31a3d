"""When a place, and with it the exam, has been asked enough, and which rule said so.

Answers anywhere may make a place sure enough, but none ends that was never looked at. What has
ended stays ended, unless a catch trial shows that answers deserve less trust. The exam ends when
all its places have.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from protocols.field import Floats
from protocols.procedures.interface import Ints
from protocols.procedures.joint.scale import GRID_DB, STEP_DB
from protocols.procedures.joint.settings import JointSettings

OPEN, NARROW, GRADED, COUNT = range(4)
StopReason = Literal["open", "narrow", "graded", "count"]
_NAMES: tuple[StopReason, ...] = ("open", "narrow", "graded", "count")
GRADE_STEPS_DB = (0.0, 4.0, 8.0)
"""Depths below the limit at which the grade changes; below 0 dB it changes once more."""


def why_enough(
    sd_db: Floats, mass: Floats, limits_db: Floats, looks: Ints, rule: JointSettings
) -> Ints:
    """Why each place has been asked enough, or `OPEN`: narrow before graded before count.

    All of shape (exams, places), but mass (exams, places, grid).
    """
    spent = np.where(looks >= rule.most, COUNT, OPEN)
    certain = np.zeros(looks.shape, np.bool_)
    if rule.grade_certainty < 1:
        certain = grade_chances(mass, limits_db).max(axis=-1) >= rule.grade_certainty
    why = np.where(sd_db <= rule.sd_db, NARROW, np.where(certain, GRADED, spent))
    return np.where(looks > 0, why, OPEN)


def grade_chances(mass: Floats, limits_db: Floats) -> Floats:
    """Probability of grades 0 to 4, shape (..., 5); mass (..., grid), limits (...)."""
    cuts = [np.maximum(limits_db - step, 0.0) for step in GRADE_STEPS_DB]
    below = [np.ones_like(limits_db), *(_below(mass, cut) for cut in cuts)]
    below += [_below(mass, np.zeros_like(limits_db)), np.zeros_like(limits_db)]
    return np.asarray(np.maximum(-np.diff(np.stack(below, axis=-1), axis=-1), 0.0))


def stop_reasons(enough: Ints) -> list[StopReason]:
    """Why each exam ended: the weakest reason among its places; "open" while one is open.

    Reasons by place, (exams, places).
    """
    ended = (enough != OPEN).all(axis=-1)
    return [_NAMES[k] for k in np.where(ended, enough.max(axis=-1), OPEN)]


def _below(mass: Floats, cut_db: Floats) -> Floats:
    """Probability below a cut, each grid value standing for the cell about it."""
    part = np.clip((cut_db[..., None] - GRID_DB) / STEP_DB + 0.5, 0.0, 1.0)
    return np.asarray((mass * part).sum(axis=-1))
