"""How far one eye has come: counts and the procedure's state, updated by pure functions."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from protocols.catch import PLACE, ROLES, Needs
from protocols.field import Eye
from protocols.messages import Answered
from protocols.plan import ExamPlan
from protocols.presentation import Presentation
from protocols.procedures.interface import Bools
from protocols.verdict import Evidence, weigh


@dataclass(frozen=True)
class EyeProgress:
    """State of one eye. Catch counts are in the order blind spot, blank, full contrast.

    `procedure` is the state of the plan's procedure, for one exam. `before_resume` is how many
    presentations and spoiled ones came before the last stop: the display is judged by what it
    did since.
    """

    eye: Eye
    procedure: Any
    weaker_seen: Bools
    catch_shown: tuple[int, int, int] = (0, 0, 0)
    catch_wrong: tuple[int, int, int] = (0, 0, 0)
    presentations: int = 0
    spoiled: int = 0
    anticipations: int = 0
    before_resume: tuple[int, int] = (0, 0)
    last_role: int = -1
    last_place: int = -1
    skipped: bool = False
    evidence: Evidence = field(default_factory=Evidence)

    @property
    def false_presses(self) -> int:
        """Presses that nothing on the screen can have caused: on blanks and too early."""
        return self.catch_wrong[1] + self.anticipations


def fresh(plan: ExamPlan, eye: Eye) -> EyeProgress:
    """An eye before its first presentation."""
    limits = plan.limits(eye)
    return EyeProgress(eye, plan.procedure.start(limits), np.zeros(limits.shape[1], np.bool_))


def needs(plan: ExamPlan, eye: EyeProgress) -> Needs:
    """What this eye still needs, as arrays of one exam."""
    asked = plan.protocol.settings.catch_trials
    least = np.array([asked.blind_spot, asked.blank, asked.full_contrast])
    return Needs(
        still_needed=(least - np.array(eye.catch_shown))[None, :],
        places_left=plan.procedure.left(eye.procedure),
        full_possible=np.array([bool(eye.weaker_seen.any())]),
        count=_one(eye.presentations),
        last_role=_one(eye.last_role),
        early=_one(asked.blind_spot_early - eye.catch_shown[0]),
    )


def answered(
    plan: ExamPlan, eye: EyeProgress, shown: Presentation, answer: Answered
) -> EyeProgress:
    """The eye after an answer. Spoiled and anticipated ones tell nothing: they only count."""
    role = ROLES.index(shown.role)
    place = -1 if shown.place_number is None else shown.place_number
    eye = replace(eye, presentations=eye.presentations + 1, last_role=role, last_place=place)
    if answer.spoiled:
        return replace(eye, spoiled=eye.spoiled + 1)
    eye = replace(eye, evidence=_weighed(eye, shown, answer))
    if answer.verdict == "anticipation":
        return replace(eye, anticipations=eye.anticipations + 1)
    seen = answer.verdict == "seen"
    if role == PLACE:
        return _at_place(plan, eye, shown, seen)
    return _at_catch(plan, eye, role, seen)


def _weighed(eye: EyeProgress, shown: Presentation, answer: Answered) -> Evidence:
    seen, early = answer.verdict == "seen", answer.verdict == "anticipation"
    return weigh(eye.evidence, shown.role, seen, early, answer.presses_s)


def _at_place(plan: ExamPlan, eye: EyeProgress, shown: Presentation, seen: bool) -> EyeProgress:
    assert shown.place_number is not None
    assert shown.level_db is not None
    state = plan.procedure.update(
        eye.procedure, _one(shown.place_number), np.array([shown.level_db]), np.array([seen])
    )
    weaker = eye.weaker_seen.copy()
    weaker[shown.place_number] |= seen and shown.level_db > 0
    return replace(eye, procedure=state, weaker_seen=weaker)


def _at_catch(plan: ExamPlan, eye: EyeProgress, role: int, seen: bool) -> EyeProgress:
    wrong = seen != (ROLES[role] == "full_contrast")
    kind = role - 1
    return replace(
        eye,
        procedure=plan.procedure.heed(eye.procedure, _one(role), np.array([seen])),
        catch_shown=_counted(eye.catch_shown, kind, 1),
        catch_wrong=_counted(eye.catch_wrong, kind, int(wrong)),
    )


def _counted(counts: tuple[int, int, int], kind: int, more: int) -> tuple[int, int, int]:
    blind_spot, blank, full = (n + more * (k == kind) for k, n in enumerate(counts))
    return blind_spot, blank, full


def _one(value: int | np.integer) -> NDArray[np.int64]:
    return np.array([value], np.int64)
