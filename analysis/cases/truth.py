"""The hidden truth of a case beside the limits of its age: what there was to be found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.grading import true_grades
from analysis.reference import Reference, limits_db
from protocols.cases.fields import HiddenField, hidden_fields
from protocols.cases.file import CaseFile
from protocols.cases.habits import Habit, badness
from protocols.cases.setups import SetUp, fault_of
from protocols.errors import InputError
from protocols.field import Eye, Floats
from protocols.library import Protocol
from protocols.plan import eyes_in_order

NEAR_LIMIT_DB = 2.0
"""Places this near the limit are asked of nobody: no exam tells them apart."""
NEAR_EDGE_DB = 1.5
"""A depth this near an edge between grades counts for both."""


@dataclass(frozen=True, eq=False)
class Truth:
    """Tested eyes with hidden fields, limits (delivered contrast dB, shape (places,)), and

    what person and room were like; `floor_db` is the level of full contrast on the display.
    """

    case: CaseFile
    eyes: tuple[Eye, ...]
    fields: Mapping[Eye, HiddenField]
    limits_db: Mapping[Eye, Floats]
    floor_db: float
    habit: Habit
    set_up: SetUp

    @property
    def fault(self) -> str:
        """What is wrong in the room."""
        return fault_of(self.set_up)

    @property
    def usable(self) -> bool:
        """Whether a result under this truth can be read: no fault, no habit beyond the limit."""
        return self.fault == "none" and badness(self.habit) < 1

    @property
    def worse(self) -> Eye:
        """The tested eye that lost more in all; the first one if neither did."""
        return max(self.eyes, key=self.lost_db)

    @property
    def any_loss(self) -> bool:
        """Whether a tested eye lost anything."""
        return any(self.fields[eye].shape != "healthy" for eye in self.eyes)

    def lost_db(self, eye: Eye) -> float:
        """What the places of an eye lost, summed, dB."""
        return float(self.fields[eye].loss_db.sum())

    def below_limit_db(self, eye: Eye) -> Floats:
        """How far the truth lies below the limit, dB, shape (places,); negative within it."""
        return np.asarray(self.limits_db[eye] - self.fields[eye].truth_db)

    def as_if(self, habit: Habit, set_up: SetUp) -> Truth:
        """The same person with another habit, in another room."""
        return replace(self, habit=habit, set_up=set_up)


def truth_of(case: CaseFile, protocol: Protocol, reference: Reference, delivery: float) -> Truth:
    """The truth of a case; `delivery` is delivered over nominal contrast.

    Raises InputError where the reference does not cover the case's age, and for a loss that leaves
    every place within its limit: nobody could find it, and who says so would lose points.
    """
    eyes = eyes_in_order(protocol, case.eyes)
    limits = {
        eye: limits_db(reference, protocol.pattern.for_eye(eye), case.age_years, eye)
        for eye in eyes
    }
    fields = hidden_fields(case, protocol)
    floor_db = float(-20 * np.log10(delivery))
    truth = Truth(case, eyes, fields, limits, floor_db, case.observer, case.set_up)
    _require_findable(truth)
    return truth


def _require_findable(truth: Truth) -> None:
    eye = truth.worse
    if not truth.any_loss or truth.below_limit_db(eye).max() > 0:
        return
    raise InputError(
        f"{truth.case.name}, {eye}.deepest_db",
        float(truth.fields[eye].loss_db.max()),
        "a loss that takes a place of this person below the limit",
        "Make it deeper, draw another seed, or call the eye healthy.",
    )


def depth_grades(truth_db: float, limit_db: float, floor_db: float) -> frozenset[int]:
    """Grades that count as right: the true one, and the next one where an edge is near."""
    near = truth_db + np.array([-NEAR_EDGE_DB, 0.0, NEAR_EDGE_DB])
    return frozenset(true_grades(near, limit_db, floor_db).tolist())
