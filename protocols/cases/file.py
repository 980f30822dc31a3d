"""A teaching case as a teacher writes it: a strict TOML file of format 1.

A case is a seed and a hidden truth: shape of loss in each eye, habit of the person, set-up of the
room, and an earlier visit if there was one. The same file and seed give the same person, so that a
class shares a case.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from protocols.cases.habits import Careful, Habit
from protocols.cases.setups import NoFault, SetUp
from protocols.errors import InputError
from protocols.field import Eye
from protocols.files import cross_check_error, decode_toml, read_text, schema_of, sha256_hex

LIBRARY = Path(__file__).parent / "library"
Shape = Literal[
    "healthy", "diffuse", "upper_arc", "lower_arc", "nasal_step", "isolated", "patches",
    "half_field", "both_arcs",
]  # fmt: skip


class EyeTruth(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What one eye has lost: a shape of the generator, and how deep it is at its deepest place."""

    shape: Shape = "healthy"
    deepest_db: Annotated[float, msgspec.Meta(gt=0.0, le=40.0)] | None = None

    def __post_init__(self) -> None:
        if self.shape == "healthy" and self.deepest_db is not None:
            raise cross_check_error(
                "deepest_db", self.deepest_db, "left out where shape is healthy",
                "Name a shape of loss or remove deepest_db.",
            )  # fmt: skip


class Earlier(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An earlier visit by the same person, careful and well set up: how long ago, how much less."""

    years: Annotated[float, msgspec.Meta(ge=0.1, le=20.0)]
    shallower_db: Annotated[float, msgspec.Meta(ge=0.0, le=40.0)] = 0.0


class CaseFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A teaching case, format 1."""

    format: Literal[1]
    name: Annotated[str, msgspec.Meta(pattern=r"^[a-z][a-z0-9-]{1,38}$")]
    about: Annotated[str, msgspec.Meta(min_length=1, max_length=300)]
    level: Annotated[int, msgspec.Meta(ge=1, le=6)]
    seed: Annotated[int, msgspec.Meta(ge=0, le=2**32 - 1)]
    age_years: Annotated[int, msgspec.Meta(ge=20, le=85)]
    eyes: Literal["right", "left", "both"] = "both"
    protocol: Annotated[str, msgspec.Meta(min_length=1)] = "screen-19"
    right: EyeTruth = EyeTruth()
    left: EyeTruth = EyeTruth()
    observer: Habit = Careful()
    set_up: SetUp = NoFault()
    earlier: Earlier | None = None

    def truth(self, eye: Eye) -> EyeTruth:
        """What one eye has lost."""
        return self.right if eye == "right" else self.left


@dataclass(frozen=True)
class Case:
    """A checked case with the text it came from and the folder that paths in it start from."""

    file: CaseFile
    text: str
    folder: Path = LIBRARY

    @property
    def name(self) -> str:
        """The case's name."""
        return self.file.name

    @property
    def protocol(self) -> str:
        """Name of the case's protocol, or its path if it lies beside the case."""
        beside = self.folder / self.file.protocol
        return str(beside) if beside.is_file() else self.file.protocol

    @property
    def sha256(self) -> str:
        """SHA-256 of the file."""
        return sha256_hex(self.text.encode())


def bundled_cases() -> list[str]:
    """Names of the bundled cases, easiest first."""
    return sorted(path.stem for path in LIBRARY.glob("*.toml"))


def load_case(name_or_path: str) -> Case:
    """Read and check a case by bundled name or by path; raises InputError."""
    path = LIBRARY / f"{name_or_path}.toml"
    if name_or_path not in bundled_cases():
        path = Path(name_or_path)
        if not path.is_file():
            raise InputError(
                "case",
                name_or_path,
                "a bundled name or the path of a .toml file",
                "See the names: ripplefield learn --list",
            )
    text = read_text(path, "case")
    return Case(decode_toml(CaseFile, text, path.name, "case"), text, path.parent)


def load_cases(names: tuple[str, ...]) -> list[Case]:
    """Several cases, all bundled ones if none is named; raises InputError where a name recurs."""
    cases = [load_case(name) for name in names or tuple(bundled_cases())]
    for number, case in enumerate(cases):
        if case.name in [other.name for other in cases[:number]]:
            raise InputError(
                "case", case.name, "cases of different names", "Leave one out or rename it."
            )
    return cases


def case_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a case file, generated from the types."""
    return schema_of(CaseFile, "Ripplefield teaching case, format 1")
