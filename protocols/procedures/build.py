"""From a protocol's settings to its procedure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from protocols.field import Place
from protocols.procedures.bayes import Bayes
from protocols.procedures.decision import Decision
from protocols.procedures.interface import Procedure
from protocols.procedures.joint import Joint, JointSettings
from protocols.procedures.plugged import build_plugged
from protocols.procedures.quest_plus import QuestPlus
from protocols.procedures.rising import Rising
from protocols.procedures.settings import (
    BayesSettings,
    DecisionSettings,
    ProcedureSettings,
    QuestPlusSettings,
    RisingSettings,
    StaircaseSettings,
)
from protocols.procedures.staircase import Staircase


def build_procedure(settings: ProcedureSettings, places: Sequence[Place]) -> Procedure[Any]:
    """The procedure that a protocol's `procedure` table describes.

    `places` are the pattern's, written for the right eye; procedures that take each place by
    itself do not look at them. Raises InputError for a plug-in's settings whose package is broken.
    """
    if isinstance(settings, RisingSettings):
        return Rising(settings)
    if isinstance(settings, StaircaseSettings):
        return Staircase(settings)
    if isinstance(settings, BayesSettings):
        return Bayes(settings)
    if isinstance(settings, QuestPlusSettings):
        return QuestPlus(settings)
    if isinstance(settings, DecisionSettings):
        return Decision(settings)
    if isinstance(settings, JointSettings):
        return Joint(settings, places)
    return build_plugged(settings, places)
