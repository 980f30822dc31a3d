"""What the indices of an eye are, as data: part of `result.json`."""

from __future__ import annotations

import msgspec


class Index(msgspec.Struct, frozen=True):
    """A number in dB with its 95 % interval."""

    value_db: float
    interval_db: tuple[float, float]


class WholeField(msgspec.Struct, frozen=True):
    """One test of the whole field: how much better loss of some shape explains the answers.

    `p` is the share of healthy fields with as large a ratio; a bound that holds without
    simulation where `calibrated` is false.
    """

    log10_ratio: float
    p: float
    calibrated: bool
    words: str


class Halves(msgspec.Struct, frozen=True):
    """Upper less lower half over mirrored pairs; p of the exact two-sided sign-flip test."""

    pairs: int
    difference: Index
    p: float


class Sector(msgspec.Struct, frozen=True):
    """Mean deviation of a nerve-fibre sector and, above the raphe, upper less mirrored sector."""

    name: str
    places: list[int]
    deviation: Index
    above_less_below: Index | None


class Indices(msgspec.Struct, frozen=True):
    """Whole-field indices of an eye, all over its tested places."""

    places: int
    mean_deviation: Index
    deviation_sd: Index
    general_level: Index
    general_percentile: int
    whole_field: WholeField
    halves: Halves | None
    sectors: list[Sector]
    false_discovery_rate: float
    standing: int
    assumptions: str
