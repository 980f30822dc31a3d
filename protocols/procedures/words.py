"""Each procedure's rule in one plain sentence."""

from __future__ import annotations

from protocols.procedures.joint.settings import JointSettings
from protocols.procedures.plugged import plugged_in_words
from protocols.procedures.settings import (
    BayesSettings,
    DecisionSettings,
    GridSettings,
    ProcedureSettings,
    QuestPlusSettings,
    RisingSettings,
    StaircaseSettings,
)

_PLACEMENTS = {
    "mean": "at the mean of what its answers leave likely",
    "mode": "at the likeliest threshold",
    "entropy": "at the level whose answer is expected to tell most",
    "variance": "at the level whose answer is expected to leave the least variance",
}


def rule_in_words(settings: ProcedureSettings) -> str:
    """How a place is asked and when it ends."""
    if isinstance(settings, RisingSettings):
        return (
            "first at the level that 99 % of people of that age see; unseen, again at "
            f"rising contrast, up to {settings.tries} tries, the last at full contrast"
        )
    if isinstance(settings, StaircaseSettings):
        return _staircase(settings)
    if isinstance(settings, DecisionSettings):
        return _decision(settings)
    if isinstance(settings, JointSettings):
        return _joint(settings)
    if isinstance(settings, GridSettings):
        return _grid(settings)
    return plugged_in_words(settings)


def _grid(settings: GridSettings) -> str:
    what = _PLACEMENTS["entropy"]
    if isinstance(settings, BayesSettings):
        what = _PLACEMENTS[settings.placement]
    if isinstance(settings, QuestPlusSettings):
        what += f", for threshold and {settings.second} together"
    return (
        f"each place {what}, until its SD is down to {settings.end_sd_db:g} dB "
        f"({settings.least} to {settings.most} answers)"
    )


def _decision(settings: DecisionSettings) -> str:
    return (
        "each place at the level that tells most of whether it is within the limit of that age, "
        f"until a sequential test decides: at most about {100 * settings.false_loss_rate:g} % of "
        f"places within called lost, {100 * settings.missed_loss_rate:g} % of lost ones missed "
        f"({settings.least} to {settings.most} answers)"
    )


def _joint(settings: JointSettings) -> str:
    return (
        "all places together: each answer also tells of its neighbours; next the place and level "
        "expected to tell most per second, until every place was looked at and its SD, with a deep "
        f"loss suspected everywhere, is down to {settings.sd_db:g} dB (1 to {settings.most} "
        "answers a place)"
    )


def _staircase(settings: StaircaseSettings) -> str:
    steps = ", then ".join(f"{step:g}" for step in settings.steps_db)
    ratio = settings.fainter_ratio
    weighted = "" if ratio == 1 else f" ({ratio:g} times that towards fainter)"
    return (
        f"fainter after {settings.seen_in_a_row} seen in a row, stronger after one unseen, in "
        f"steps of {steps} dB{weighted}; a place ends after {settings.reversals} reversals or "
        f"{settings.most} answers"
    )
