"""The next presentation: a pure function of plan, progress and index."""

from __future__ import annotations

import numpy as np

from protocols.catch import ROLES, next_roles
from protocols.draws import Stream, bounded_exponential, pick, uniform
from protocols.field import Eye, Place
from protocols.levels import contrast_from_db
from protocols.plan import ExamPlan
from protocols.presentation import Presentation, Role
from protocols.procedures.interface import Bools
from protocols.progress import EyeProgress, needs


def choose(plan: ExamPlan, eye: EyeProgress, index: int) -> Presentation:
    """What an eye that is not done is shown at this index."""
    role = ROLES[int(next_roles(needs(plan, eye), *_role_draws(plan, index))[0])]
    number, level_db = _where_and_how_strong(plan, eye, role, index)
    return _presentation(plan, eye.eye, index, role, number, level_db, practice=False)


def choose_practice(plan: ExamPlan, eye: Eye, index: int, last_place: int) -> Presentation:
    """A practice presentation: full contrast, anywhere but where the last one was."""
    elsewhere = np.arange(len(plan.places(eye))) != last_place
    number = int(pick(uniform([plan.seed], index, Stream.PLACE), elsewhere[None, :])[0])
    return _presentation(plan, eye, index, "place", number, 0.0, practice=True)


def _role_draws(plan: ExamPlan, index: int) -> tuple[int, np.ndarray, np.ndarray]:
    return (
        plan.protocol.settings.catch_trials.none_in_first,
        uniform([plan.seed], index, Stream.TRIAL_KIND),
        uniform([plan.seed], index, Stream.CATCH_KIND),
    )


def _where_and_how_strong(
    plan: ExamPlan, eye: EyeProgress, role: Role, index: int
) -> tuple[int | None, float | None]:
    u = uniform([plan.seed], index, Stream.PLACE)
    if role == "place":
        place, level = plan.procedure.propose(eye.procedure, u, np.array([eye.last_place]))
        return int(place[0]), float(level[0])
    if role == "blind_spot":
        return None, 0.0
    if role == "full_contrast":
        return int(pick(u, _elsewhere(eye))[0]), 0.0
    return int(pick(u, np.ones((1, len(eye.weaker_seen)), np.bool_))[0]), None


def _elsewhere(eye: EyeProgress) -> Bools:
    """Places seen at a weaker contrast, without the one shown last if there are others."""
    others = eye.weaker_seen & (np.arange(len(eye.weaker_seen)) != eye.last_place)
    return np.asarray((others if others.any() else eye.weaker_seen)[None, :])


def _presentation(
    plan: ExamPlan,
    eye: Eye,
    index: int,
    role: Role,
    number: int | None,
    level_db: float | None,
    practice: bool,
) -> Presentation:
    phases = plan.protocol.settings.stimulus.phases_deg
    which = int(uniform(plan.seed, index, Stream.PHASE) * len(phases))
    return Presentation(
        index=index,
        eye=eye,
        role=role,
        practice=practice,
        place=_place(plan, eye, number),
        place_number=number,
        level_db=level_db,
        contrast=0.0 if level_db is None else float(contrast_from_db(level_db)),
        phase_deg=phases[which],
        gap_s=gap_s(plan, index),
    )


def _place(plan: ExamPlan, eye: Eye, number: int | None) -> Place:
    return plan.blind_spot(eye) if number is None else plan.places(eye)[number]


def gap_s(plan: ExamPlan, index: int) -> float:
    """Quiet time in seconds after the answer window of presentation `index`."""
    quiet = plan.protocol.settings.foreperiod
    return float(
        bounded_exponential(plan.seed, index, Stream.GAP, quiet.min_s, quiet.max_s, quiet.decay_s)
    )
