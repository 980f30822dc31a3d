"""What the tests of the joint procedure share: fields, sharp observers, whole exams."""

from __future__ import annotations

import numpy as np

from protocols.field import Place
from protocols.library import load_protocol
from protocols.procedures.joint import Joint, JointSettings

PATTERN = load_protocol("screen-19").pattern
LIMIT_DB = 18.0
HEALTHY_DB = LIMIT_DB + 2.3263 * 2.5
TINY = (Place(-8.0, 5.0), Place(-16.0, 7.0), Place(9.0, -6.0))


def joint(places=PATTERN.places, **settings) -> Joint:
    return Joint(JointSettings(**settings), places)


def limits(exams: int, places: int = 19) -> np.ndarray:
    return np.full((exams, places), LIMIT_DB)


def asked(procedure, state, place, level_db, seen):
    """One answer, the same in every exam."""
    exams = len(state.shares)
    return procedure.update(
        state, np.full(exams, place), np.full(exams, float(level_db)), np.full(exams, seen)
    )


def sharp_exams(procedure, truth, slips=lambda count, place, seen: seen, seed=1, most=300):
    """Exams of people who see exactly what is above their truth; (state, presentations).

    `slips(count, place, seen)` may change the answers of the presentation with this number.
    """
    state = procedure.start(limits(*truth.shape))
    row, last = np.arange(len(truth)), np.full(len(truth), -1)
    presentations = np.zeros(len(truth), int)
    for count in range(most):
        going = ~procedure.finished(state).all(axis=1)
        if not going.any():
            return state, presentations
        u = np.random.default_rng([seed, count]).random(len(truth))
        place, level = procedure.propose(state, u, last)
        seen = slips(count, place, truth[row, place] >= level)
        state = procedure.update(state, np.where(going, place, -1), level, seen)
        presentations += going
        last = place
    raise AssertionError("exams did not end")
