"""Age limits: the level that 99 % of people of an age see at a place.

A reference gives mean and spread of sensitivity (delivered contrast dB) by place and age; its limit
is the 1 % quantile. The bundled one is synthetic and says so wherever it is used. One that a lab
made from its own healthy exams holds a table `measured` as well, which then decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import msgspec
import numpy as np
from scipy.special import ndtri

from analysis.measured import Measured, level_db, median_levels_db
from protocols.errors import InputError
from protocols.events import ReferenceFacts
from protocols.field import Eye, Floats, Place, for_eye
from protocols.files import cross_check_error, decode_toml, read_text, sha256_hex

LIMIT_SHARE = 0.01
"""Share of people of an age below the limit: the best grade means as good as 99 % of them."""

_BUNDLED = Path(__file__).parent / "library" / "synthetic-1.toml"


class ReferenceFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A reference file, format 1: a linear trend over eccentricity and age.

    With `measured` the levels come from there, and the trend is a summary of it in few numbers.
    """

    format: Literal[1]
    name: Annotated[str, msgspec.Meta(min_length=1)]
    about: str
    notice: str
    synthetic: bool
    people: Annotated[int, msgspec.Meta(ge=0)]
    from_age_years: Annotated[int, msgspec.Meta(ge=5, le=110)]
    to_age_years: Annotated[int, msgspec.Meta(ge=5, le=110)]
    centre_db: Annotated[float, msgspec.Meta(ge=0.0, le=50.0)]
    fall_db_per_deg: Annotated[float, msgspec.Meta(ge=-3.0, le=3.0)]
    loss_db_per_year: Annotated[float, msgspec.Meta(ge=-1.0, le=1.0)]
    spread_db: Annotated[float, msgspec.Meta(ge=0.1, le=10.0)]
    measured: Measured | None = None

    def __post_init__(self) -> None:
        if self.to_age_years < self.from_age_years:
            raise cross_check_error(
                "to_age_years", self.to_age_years, f"from_age_years, {self.from_age_years}, and up",
                "Name the older age last.",
            )  # fmt: skip


@dataclass(frozen=True)
class Reference:
    """A checked reference with the text of the file it came from."""

    file: ReferenceFile
    text: str

    @property
    def sha256(self) -> str:
        """SHA-256 of the file."""
        return sha256_hex(self.text.encode())

    @property
    def facts(self) -> ReferenceFacts:
        """What a record says of the reference it used."""
        return ReferenceFacts(
            self.file.name, self.sha256, self.file.people, self.file.synthetic, self.file.notice
        )


def load_reference(path: Path | None = None) -> Reference:
    """Read a reference, the bundled synthetic one if no path is given; raises InputError."""
    path = path or _BUNDLED
    text = read_text(path, "reference")
    return Reference(decode_toml(ReferenceFile, text, path.name, "reference"), text)


def mean_db(
    reference: Reference, places: Sequence[Place], age_years: int, eye: Eye = "right"
) -> Floats:
    """Mean sensitivity of people of an age, delivered contrast dB, shape (places,).

    `eye` is the eye the places are written for; a measured reference knows right from left.
    Where the reference was measured, the median. Raises InputError outside the ages and places
    the reference covers; it never extrapolates.
    """
    file = reference.file
    _require_age(file, age_years)
    if file.measured is not None:
        return median_levels_db(file.measured, _as_right(places, eye), age_years)
    eccentricity = np.array([place.eccentricity_deg for place in places])
    age_loss = file.loss_db_per_year * (age_years - 20)
    return np.asarray(file.centre_db - file.fall_db_per_deg * eccentricity - age_loss)


def _require_age(file: ReferenceFile, age_years: int) -> None:
    if not file.from_age_years <= age_years <= file.to_age_years:
        raise InputError(
            "age",
            age_years,
            f"{file.from_age_years} to {file.to_age_years} years, the ages of {file.name}",
            "Use a reference that covers this age.",
        )


def _as_right(places: Sequence[Place], eye: Eye) -> list[Place]:
    return [for_eye(place, eye) for place in places]


def quantile_db(
    reference: Reference,
    places: Sequence[Place],
    age_years: int,
    share: float,
    eye: Eye = "right",
) -> Floats:
    """Level with this share of people of that age below it, shape (places,)."""
    file = reference.file
    _require_age(file, age_years)
    if file.measured is not None:
        return level_db(file.measured, _as_right(places, eye), age_years, share)
    return mean_db(reference, places, age_years) + file.spread_db * float(ndtri(share))


def limits_db(
    reference: Reference, places: Sequence[Place], age_years: int, eye: Eye = "right"
) -> Floats:
    """The level that 99 % of people of that age see, delivered contrast dB, shape (places,).

    Source of the 99 %: common practice, none published.
    """
    return quantile_db(reference, places, age_years, LIMIT_SHARE, eye)
