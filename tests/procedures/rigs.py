"""Settings for tests of procedures, as a protocol file gives them."""

from __future__ import annotations

from protocols.procedures.joint import JointSettings
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
