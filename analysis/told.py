"""What a procedure made of an eye's answers: told again every answer that it was told then."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from analysis.load import ExamRecord, Trial
from protocols.catch import ROLES
from protocols.field import Eye
from protocols.procedures.interface import Procedure
from protocols.replay import plan_from


class Told(NamedTuple):
    """A procedure with its state after the last answer, one exam wide."""

    procedure: Procedure[Any]
    state: Any

    @property
    def ended(self) -> list[bool]:
        """Whether each place is finished."""
        return [bool(done) for done in self.procedure.finished(self.state)[0]]


def told_again(exam: ExamRecord, eye: Eye) -> Told:
    """The procedure after the eye's last answer."""
    plan = plan_from(exam.opened, exam.protocol)
    procedure = plan.procedure
    state = procedure.start(plan.limits(eye))
    for trial in exam.of_eye(eye):
        if not _told(trial):
            continue
        shown, seen = trial.shown, np.array([trial.seen])
        if shown.role == "place":
            place, level_db = np.array([shown.place_number]), np.array([shown.level_db])
            state = procedure.update(state, place, level_db, seen)
        else:
            state = procedure.heed(state, np.array([ROLES.index(shown.role)]), seen)
    return Told(procedure, state)


def _told(trial: Trial) -> bool:
    return trial.counts and trial.answer is not None and not trial.answer.spoiled
