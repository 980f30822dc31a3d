"""Settings of each procedure as they stand in a protocol file: one type each, told by `kind`."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from protocols.files import cross_check_error
from protocols.procedures.joint.settings import JointSettings

Step = Annotated[float, msgspec.Meta(ge=0.1, le=20.0)]
Slip = Annotated[float, msgspec.Meta(ge=0.001, le=0.4)]
Answers = Annotated[int, msgspec.Meta(ge=1, le=1000)]
Above = Annotated[float, msgspec.Meta(ge=-20.0, le=20.0)]
Spread = Annotated[float, msgspec.Meta(ge=0.2, le=20.0)]


class RisingSettings(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="rising"
):
    """Screening: reference limit first, then rising contrast, the last try at full contrast."""

    tries: Annotated[int, msgspec.Meta(ge=1, le=3)] = 3
    step_db: Annotated[float, msgspec.Meta(ge=1.0, le=20.0)] = 4.0

    @property
    def answers_per_place(self) -> tuple[int, int]:
        """Fewest and most presentations at one place."""
        return 1, self.tries


class StaircaseSettings(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="staircase"
):
    """Up and down in fixed steps: fainter after `seen_in_a_row` seen, stronger after one unseen.

    `steps_db` are the steps towards stronger, the next one from each reversal on; a step towards
    fainter is `fainter_ratio` times as large. A place ends after so many `reversals`; its estimate
    is the mean of the last `averaged` reversals' midpoints. `most` answers end it anyway.
    """

    steps_db: Annotated[tuple[Step, ...], msgspec.Meta(min_length=1, max_length=10)] = (4.0, 2.0)
    seen_in_a_row: Annotated[int, msgspec.Meta(ge=1, le=4)] = 1
    fainter_ratio: Annotated[float, msgspec.Meta(ge=0.05, le=20.0)] = 1.0
    reversals: Answers = 2
    averaged: Answers = 1
    most: Answers = 16
    first_above_limit_db: Above = 0.0

    def __post_init__(self) -> None:
        if self.averaged > self.reversals:
            raise cross_check_error(
                "averaged",
                self.averaged,
                f"up to reversals, {self.reversals}",
                "Average fewer or ask for more reversals.",
            )
        _refuse_few(self.most, "reversals", self.reversals)

    @property
    def answers_per_place(self) -> tuple[int, int]:
        """Fewest and most presentations at one place."""
        return min(2, self.most), self.most


class GridSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the procedures with a posterior on a grid share.

    The prior is normal around the reference limit plus `prior_above_limit_db`, with a uniform
    floor over the whole grid that holds `prior_floor` of it. Neither rate of slips may be 0: one
    slip would then rule out the truth for good. A place ends when the posterior SD
    is down to `end_sd_db` after at least `least` answers, or after `most`.
    """

    grid_step_db: Annotated[float, msgspec.Meta(ge=0.1, le=4.0)] = 1.0
    false_press_rate: Slip = 0.03
    lapse_rate: Slip = 0.03
    prior_above_limit_db: Above = 5.8
    prior_sd_db: Spread = 3.0
    prior_floor: Annotated[float, msgspec.Meta(ge=0.01, le=1.0)] = 0.3
    end_sd_db: Annotated[float, msgspec.Meta(ge=0.05, le=20.0)] = 2.5
    least: Answers = 2
    most: Answers = 12

    def __post_init__(self) -> None:
        _refuse_few(self.most, "least", self.least)

    @property
    def answers_per_place(self) -> tuple[int, int]:
        """Fewest and most presentations at one place."""
        return self.least, self.most


class BayesSettings(GridSettings, frozen=True, tag_field="kind", tag="bayes"):
    """Threshold of each place on a grid; the seeing curve's spread is taken as known.

    The next level is the posterior's mean or mode, or the level whose answer is expected to leave
    the least entropy or variance.
    """

    placement: Literal["mean", "mode", "entropy", "variance"] = "entropy"
    spread_db: Spread = 1.5


class QuestPlusSettings(GridSettings, frozen=True, tag_field="kind", tag="quest-plus"):
    """Threshold together with the slope or the lapse rate, each level by least expected entropy.

    `second_values` are the candidates of the second parameter: with `second = "slope"` spreads in
    dB of the Gaussian or exponents of the Weibull curve, with `second = "lapse"` lapse rates; the
    other one stays at `slope` or `lapse_rate`.
    """

    curve: Literal["gaussian", "weibull"] = "gaussian"
    second: Literal["slope", "lapse"] = "slope"
    second_values: Annotated[
        tuple[Annotated[float, msgspec.Meta(ge=0.0, le=20.0)], ...],
        msgspec.Meta(min_length=1, max_length=200),
    ] = (0.75, 1.0, 1.5, 2.0, 3.0, 4.5)
    slope: Spread = 1.5

    def __post_init__(self) -> None:
        super().__post_init__()
        low, high = (0.2, 20.0) if self.second == "slope" else (0.001, 0.4)
        for value in self.second_values:
            if not low <= value <= high:
                raise cross_check_error(
                    "second_values",
                    value,
                    f"{low:g} to {high:g} where second is {self.second}",
                    "Leave it out.",
                )


class DecisionSettings(GridSettings, frozen=True, tag_field="kind", tag="decision"):
    """Screening by a sequential test of each place: within the limit of that age, or below it.

    `false_loss_rate` is how often a place within may be called lost, `missed_loss_rate` how often a
    lost one within, on average over the prior. `end_sd_db` does not count here.
    """

    spread_db: Spread = 1.5
    false_loss_rate: Annotated[float, msgspec.Meta(ge=0.001, le=0.4)] = 0.02
    missed_loss_rate: Annotated[float, msgspec.Meta(ge=0.001, le=0.4)] = 0.05
    least: Answers = 1
    most: Answers = 6


ProcedureSettings = (
    RisingSettings
    | StaircaseSettings
    | BayesSettings
    | QuestPlusSettings
    | JointSettings
    | DecisionSettings
)


def _refuse_few(most: int, key: str, count: int) -> None:
    if most < count:
        raise cross_check_error(
            "most", most, f"{key} and up, {count}", f"Allow more answers or ask for less {key}."
        )
