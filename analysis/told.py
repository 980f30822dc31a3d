"""What a procedure made of an eye's answers: told again every answer that it was told then."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.load import ExamRecord, Trial
from protocols.catch import ROLES
from protocols.field import Eye
from protocols.procedures.interface import Procedure
from protocols.replay import plan_from


def ended_places(exam: ExamRecord, eye: Eye) -> list[bool]:
    """Whether each place is finished."""
    procedure, state = procedure_state(exam, eye)
    return [bool(done) for done in procedure.finished(state)[0]]


def procedure_state(exam: ExamRecord, eye: Eye) -> tuple[Procedure[Any], Any]:
    """The procedure and its state after the eye's last answer, one exam wide."""
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
    return procedure, state


def _told(trial: Trial) -> bool:
    return trial.counts and trial.answer is not None and not trial.answer.spoiled
