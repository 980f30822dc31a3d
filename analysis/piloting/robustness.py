"""How a variant bears lapses and false presses: the same people, everybody slipping alike."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.piloting.crowd import AS_DRAWN, Habit
from analysis.piloting.detection import cut_for
from analysis.piloting.errors import Truth, errors_of
from analysis.piloting.measures import share, weighted_quantile
from analysis.piloting.pieces import Examined
from analysis.piloting.result import Slips
from protocols.procedures.rows import rows_of


def slips_of(found: Mapping[Habit, Examined], truth: Truth) -> list[Slips]:
    """A row for the people as drawn and for each habit that was tried; none if none was."""
    tried = [habit for habit in found if habit != AS_DRAWN]
    if not tried:
        return []
    usual = found[AS_DRAWN]
    cut = cut_for(usual.ratio[~truth.lossy, 0], 0.95)
    people = len(found[tried[0]])
    rows = [_row(AS_DRAWN, rows_of(usual, (slice(people), slice(1))), truth, cut)]
    return rows + [_row(habit, found[habit], truth, cut) for habit in tried]


def _row(habit: Habit, exams: Examined, truth: Truth, cut: float) -> Slips:
    people = len(exams)
    some = rows_of(truth, slice(people))
    errors = errors_of(exams, some, np.ones(some.level_db.shape, np.bool_))
    assert errors is not None
    said, lossy = exams.ratio[:, 0] > cut, some.lossy
    return Slips(
        habit=habit.kind,  # type: ignore[arg-type]
        rate=None if habit == AS_DRAWN else habit.rate,
        people=people,
        seconds=weighted_quantile(exams.seconds[:, 0], np.ones(people), 0.5),
        errors=errors,
        false_alarms=share(int((said & ~lossy).sum()), int((~lossy).sum())),
        sensitivity=share(int((said & lossy).sum()), int(lossy.sum())),
    )
