"""What a pilot found, as data: `pilot.json`. Every number has its Monte-Carlo 95 % interval."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from protocols.files import schema_of


class Measure(msgspec.Struct, frozen=True):
    """A number with its 95 % Monte-Carlo interval."""

    value: float
    low: float
    high: float


class Spread(msgspec.Struct, frozen=True):
    """Mean, median and 95th percentile over exams."""

    mean: Measure
    median: Measure
    percentile_95: Measure


Group = Literal["without loss", "with loss", "at the lab's prevalence"]


class Cost(msgspec.Struct, frozen=True):
    """Presentations and seconds of an eye among people of a group."""

    group: Group
    people: int
    presentations: Spread
    seconds: Spread


class Errors(msgspec.Struct, frozen=True):
    """Estimate less truth over finished places; coverage is that of the 95 % interval."""

    places: int
    bias_db: Measure
    rms_db: Measure
    coverage: Measure


class PlaceErrors(msgspec.Struct, frozen=True):
    """Errors at a place of the right eye."""

    x_deg: float
    y_deg: float
    errors: Errors


class DepthErrors(msgspec.Struct, frozen=True):
    """Errors and within-person SD of repeats where a person lost so much; null where nobody did."""

    depth: str
    errors: Errors | None
    within_sd_db: Measure | None


class ShapeErrors(msgspec.Struct, frozen=True):
    """Errors of people with a shape of loss, and how many are found at 95 % specificity."""

    shape: str
    people: int
    errors: Errors | None
    found: Measure | None


class Call(msgspec.Struct, frozen=True):
    """Places of a true grade: shares called below the limit, given that grade, given none."""

    truth: str
    places: int
    below: Measure
    right: Measure
    none: Measure


class Retest(msgspec.Struct, frozen=True):
    """Spread of repeats: SD within a person at a place and of a field's mean.

    Two exams of the same person differ by less than the repeatability 95 times in 100.
    """

    repeats: int
    within_sd_db: Measure
    repeatability_db: float
    mean_within_sd_db: Measure


class Operating(msgspec.Struct, frozen=True):
    """A rule that says loss or none: how often right, and what its word is worth in the lab."""

    rule: str
    specificity: Measure
    sensitivity: Measure
    positive_predictive_value: Measure
    negative_predictive_value: Measure


class RocPoint(msgspec.Struct, frozen=True):
    """A point of the ROC curve."""

    false_alarms: float
    sensitivity: Measure


class Detection(msgspec.Struct, frozen=True):
    """Loss told from none by the whole-field test's ratio, and by counts of graded places.

    Of first exams; `upper_area`, the mean sensitivity at specificities of 95 % and more, is of all.
    """

    area: Measure
    upper_area: Measure
    operating: list[Operating]
    roc: list[RocPoint]


class Slips(msgspec.Struct, frozen=True):
    """The same measures where everybody slips at one rate; false alarms and sensitivity are at the

    cut that gives 95 % specificity with people as drawn.
    """

    habit: Literal["as drawn", "lapses", "false presses"]
    rate: float | None
    people: int
    seconds: Measure
    errors: Errors
    false_alarms: Measure
    sensitivity: Measure


class VariantResult(msgspec.Struct, frozen=True):
    """All that is known of a variant."""

    label: str
    of: str
    changes: dict[str, float | int | str | bool]
    file: str
    sha256: str
    pattern: str
    places: int
    stopped: Measure
    unfinished: Measure
    costs: list[Cost]
    errors: Errors
    by_place: list[PlaceErrors]
    by_depth: list[DepthErrors]
    by_shape: list[ShapeErrors]
    calls: list[Call]
    retest: Retest | None
    detection: Detection
    slips: list[Slips]


class Objectives(msgspec.Struct, frozen=True):
    """What variants are weighed by: mean seconds at the lab's prevalence, RMS error over places,

    mean sensitivity at specificities of 95 % and more.
    """

    seconds: Measure
    rms_db: Measure
    sensitivity: Measure


class Pair(msgspec.Struct, frozen=True):
    """One variant less another; the intervals hold for all pairs and objectives together."""

    variant: str
    other: str
    difference: Objectives
    dominates: bool


class Dominated(msgspec.Struct, frozen=True):
    """A variant that others dominate."""

    variant: str
    by: list[str]


class Orders(msgspec.Struct, frozen=True):
    """Variants from best to worst by each objective; those of a group are not clearly apart

    from their neighbours in it.
    """

    seconds: list[list[str]]
    rms_db: list[list[str]]
    sensitivity: list[list[str]]


class Origin(msgspec.Struct, frozen=True):
    """What made the pilot: same plan, seed and versions, same bytes."""

    plan: str
    plan_sha256: str
    reference: str
    reference_sha256: str
    reference_notice: str
    versions: dict[str, str]
    commands: list[str]


class PilotResult(msgspec.Struct, frozen=True, kw_only=True):
    """`pilot.json`, format 1."""

    format: Literal[1]
    notice: str
    simulated: str
    name: str
    about: str
    seed: int
    people: int
    people_with_loss: int
    repeats: int
    exams: int
    prevalence: float
    margins: dict[str, float]
    origin: Origin
    dominated: list[Dominated]
    orders: Orders
    objectives: dict[str, Objectives]
    pairs: list[Pair]
    variants: list[VariantResult]


def pilot_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of `pilot.json`, generated from the types."""
    return schema_of(PilotResult, "Ripplefield pilot, format 1")
