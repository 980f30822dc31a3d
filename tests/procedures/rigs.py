"""Procedures for tests, all built from settings as a protocol file gives them."""

from __future__ import annotations

import numpy as np

from protocols.draws import Stream, uniform
from protocols.field import Place
from protocols.procedures.build import build_procedure
from protocols.procedures.joint import JointSettings
from protocols.procedures.psychometric import seeing_probability
from protocols.procedures.settings import (
    BayesSettings,
    DecisionSettings,
    QuestPlusSettings,
    RisingSettings,
    StaircaseSettings,
)

SETTINGS = {
    "rising": RisingSettings(),
    "rising, two tries": RisingSettings(tries=2, step_db=6.0),
    "staircase 4-2": StaircaseSettings(),
    "staircase, 3 down": StaircaseSettings(
        seen_in_a_row=3, steps_db=(4.0, 2.0, 1.0), reversals=6, averaged=4, most=60
    ),
    "staircase, weighted": StaircaseSettings(fainter_ratio=1 / 3, reversals=5, averaged=3),
    "staircase, one answer": StaircaseSettings(reversals=1, most=1),
    "bayes, mean": BayesSettings(placement="mean", end_sd_db=1.5),
    "bayes, mode": BayesSettings(placement="mode", grid_step_db=0.5),
    "bayes, entropy": BayesSettings(placement="entropy", most=30, end_sd_db=0.8),
    "bayes, variance": BayesSettings(placement="variance"),
    "quest-plus, slope": QuestPlusSettings(second_values=(1.0, 2.0, 4.0)),
    "quest-plus, lapse": QuestPlusSettings(
        curve="weibull", slope=3.5, second="lapse", second_values=(0.01, 0.1, 0.3)
    ),
    "decision": DecisionSettings(),
    "decision, strict": DecisionSettings(false_loss_rate=0.005, least=2, most=20),
    "joint": JointSettings(),
    "joint, by grade": JointSettings(sd_db=0.5, grade_certainty=0.8, most=5),
}
PLACES = 6
WHERE = [
    Place(x, y)
    for x, y in [(0, 0), (8.2, 4.8), (-8.2, 4.8), (0, -9.5), (18.8, 6.8), (-18.8, -6.8)]
]


def procedure(name: str):
    return build_procedure(SETTINGS[name], WHERE)


def limits_of(exams: int, places: int = PLACES, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).uniform(5, 30, (exams, places)).round(2)


def truth_of(limits: np.ndarray, seed: int = 2) -> np.ndarray:
    """Thresholds in nominal dB around healthy ones, one place in four with a loss."""
    dice = np.random.default_rng(seed)
    healthy = limits + dice.normal(5.8, 2.5, limits.shape)
    return healthy - (dice.random(limits.shape) < 0.25) * dice.uniform(0, 40, limits.shape)


def answers(truth, seeds, step, place, level_db):
    """Whether each exam's target is seen: spread 1.5 dB, 2 % false presses and lapses."""
    row = np.arange(len(place))
    p = seeing_probability(level_db, truth[row, place], 1.5, 0.02, 0.02)
    return uniform(seeds, step, Stream.SEE) < p


def run(name, limits, truth, seeds, steps=400):
    """States, proposals and answers of exams that go on until all are finished."""
    rule = procedure(name)
    state, last = rule.start(limits), np.full(len(limits), -1)
    trail = []
    for step in range(steps):
        if rule.finished(state).all():
            break
        open_exams = ~rule.finished(state).all(axis=-1)
        place, level = rule.propose(state, uniform(seeds, step, Stream.PLACE), last)
        seen = answers(truth, seeds, step, place, level)
        trail.append((state, place, level, seen, open_exams))
        state = rule.update(state, np.where(open_exams, place, -1), level, seen)
        last = place
    return state, trail
