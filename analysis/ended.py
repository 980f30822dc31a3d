"""Which places of an eye came to the end of their procedure, from its answers alone."""

from __future__ import annotations

import numpy as np

from analysis.load import ExamRecord, Trial
from protocols.catch import ROLES
from protocols.field import Eye
from protocols.replay import plan_from


def ended_places(exam: ExamRecord, eye: Eye) -> list[bool]:
    """Whether each place is finished: the procedure is told every answer that it was told then."""
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
    return [bool(done) for done in procedure.finished(state)[0]]


def _told(trial: Trial) -> bool:
    return trial.counts and trial.answer is not None and not trial.answer.spoiled
