"""The plan of a pilot: which protocols, on which invented people, judged how; strict TOML."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from protocols.files import cross_check_error, decode_toml, read_text, schema_of
from protocols.population.draw import AGES_YEARS, MIXED, USUAL_SLIPS

Name = Annotated[str, msgspec.Meta(min_length=1, max_length=80)]
Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]
Slip = Annotated[float, msgspec.Meta(ge=0.0, le=0.5)]
Years = Annotated[float, msgspec.Meta(ge=10, le=95)]
GridValue = float | int | str | bool
Grid = dict[str, list[GridValue]]


class Contender(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A protocol, by bundled name or by path from the plan's folder, and values to try.

    `grid` has lists of values by key of the protocol file, such as "procedure.end_sd_db"; every
    combination is a variant of its own.
    """

    protocol: Name
    grid: Grid = {}


class Mix(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Share of each shape of loss among the people drawn; together 1."""

    healthy: Share = 0.0
    diffuse: Share = 0.0
    upper_arc: Share = 0.0
    lower_arc: Share = 0.0
    nasal_step: Share = 0.0
    isolated: Share = 0.0
    patches: Share = 0.0
    half_field: Share = 0.0
    both_arcs: Share = 0.0

    @property
    def shares(self) -> dict[str, float]:
        """The shares by shape."""
        return {name: float(getattr(self, name)) for name in self.__struct_fields__}


class People(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Who is drawn: ages evenly between two, losses by `mix`, habits by their means.

    Each person has a lapse rate and a false-press rate of their own, by a beta law of that mean.
    """

    from_age_years: Years = AGES_YEARS[0]
    to_age_years: Years = AGES_YEARS[1]
    mean_lapse_rate: Slip = USUAL_SLIPS
    mean_false_press_rate: Slip = USUAL_SLIPS
    mix: Mix = Mix(**MIXED)

    def __post_init__(self) -> None:
        if self.to_age_years < self.from_age_years:
            raise cross_check_error(
                "to_age_years", self.to_age_years, f"from_age_years, {self.from_age_years:g}, "
                "and up", "Name the older age last.",
            )  # fmt: skip
        total = sum(self.mix.shares.values())
        if abs(total - 1) > 1e-9:
            raise cross_check_error("mix", total, "shares that sum to 1", "Correct the shares.")
        if not 0.1 <= self.mix.healthy <= 0.9:
            raise cross_check_error(
                "mix.healthy", self.mix.healthy, "0.1 to 0.9",
                "Draw people of both kinds; prevalence says how rare loss is in the lab.",
            )  # fmt: skip


class Robustness(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Everybody at the same rate of slips: the rates to try, and on how many of the people."""

    people: Annotated[int, msgspec.Meta(ge=100, le=1_000_000)] = 1000
    lapse_rates: Annotated[tuple[Slip, ...], msgspec.Meta(max_length=10)] = (0.0, 0.1, 0.2)
    false_press_rates: Annotated[tuple[Slip, ...], msgspec.Meta(max_length=10)] = (0.0, 0.1, 0.2)


class Margins(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Differences too small to matter to the lab: seconds an eye, RMS error, detection."""

    seconds: Annotated[float, msgspec.Meta(ge=0.0, le=600.0)] = 5.0
    rms_db: Annotated[float, msgspec.Meta(ge=0.0, le=10.0)] = 0.25
    sensitivity: Share = 0.05


class PlanFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A pilot's plan, format 1."""

    format: Literal[1]
    name: Name
    about: str = ""
    seed: Annotated[int, msgspec.Meta(ge=0, le=2**31 - 1)]
    people: Annotated[int, msgspec.Meta(ge=100, le=1_000_000)]
    repeats: Annotated[int, msgspec.Meta(ge=1, le=20)] = 2
    prevalence: Annotated[float, msgspec.Meta(ge=0.0001, le=0.9999)]
    protocols: Annotated[list[Contender], msgspec.Meta(min_length=1, max_length=64)]
    population: People = People()
    robustness: Robustness = Robustness()
    margins: Margins = Margins()

    def __post_init__(self) -> None:
        rates = (*self.robustness.lapse_rates, *self.robustness.false_press_rates)
        if rates and self.robustness.people > self.people:
            raise cross_check_error(
                "robustness.people", self.robustness.people, f"up to people, {self.people}",
                "Draw more people or ask fewer of them again.",
            )  # fmt: skip


def load_plan(path: Path) -> tuple[PlanFile, str]:
    """Read and check a plan; returns it with its text. Raises InputError."""
    text = read_text(path, "PLAN.toml")
    return decode_toml(PlanFile, text, path.name, "plan"), text


def plan_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of plans, generated from the types."""
    return schema_of(PlanFile, "Ripplefield plan of a pilot, format 1")
