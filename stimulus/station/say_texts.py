"""What is read aloud, from plain text files: one a language, `say/xx.toml`.

A file in the data folder's own `say/` is added to those of the program, or stands in for one.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

import msgspec

from protocols.errors import InputError
from protocols.files import decode_toml, read_text

HERE = Path(__file__).parent / "say"
FOLDER = "say"
When = Literal["", "glasses", "no glasses", "right", "left", "practice"]


class Step(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing to say; `when` names the case it is for."""

    heading: Annotated[str, msgspec.Meta(min_length=1)]
    say: list[str]
    when: When = ""


Line = Annotated[str, msgspec.Meta(min_length=1)]
Lines = Annotated[list[Line], msgspec.Meta(min_length=1, max_length=10)]


class WindowText(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What the stimulus window says: lists are lines, the first of them a heading."""

    research_only: Line
    before_session: Lines
    right_eye: Line
    left_eye: Line
    once_more: Line
    cover_left: Line
    cover_right: Line
    task: Lines
    practice_comes: Line
    no_practice: Line
    press_to_begin: Line
    press_to_go_on: Line
    rest_before_right: Lines
    rest_before_left: Lines
    held: Lines
    practice_waits: Lines
    finished: Lines
    seen: Line
    too_early: Line
    missed: Line
    too_late: Line


class Text(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A language's file, format 1. `direction` is how the script runs: ltr or rtl."""

    format: Literal[1]
    language: Annotated[str, msgspec.Meta(pattern="^[a-z]{2,3}$")]
    name: Annotated[str, msgspec.Meta(min_length=1)]
    direction: Literal["ltr", "rtl"]
    about: str
    question: str
    if_yes_or_unsure: str
    if_no: str
    after: str
    steps: list[Step]
    advice: dict[str, str]
    window: WindowText | None = None


def load_texts(data: Path) -> Mapping[str, Text]:
    """All languages by code; raises InputError for a file that is not one."""
    own = {path.stem: read_say_file(path) for path in sorted((data / FOLDER).glob("*.toml"))}
    return {**bundled_texts(), **own}


def bundled_texts() -> dict[str, Text]:
    """The program's own languages by code."""
    return {path.stem: read_say_file(path) for path in sorted(HERE.glob("*.toml"))}


def read_say_file(path: Path, parameter: str = "say") -> Text:
    """One language's file, named by a parameter; raises InputError for a file that is not one."""
    text = decode_toml(Text, read_text(path, parameter), path.name)
    if text.language != path.stem:
        raise InputError(
            f"{path.name}, language", text.language, path.stem, "Name the file by it."
        )
    return text


def steps_for(text: Text, eye: str, glasses: bool | None, practice: bool) -> list[Step]:
    """The steps to say before an eye, in order; both cases of glasses where it is not known."""
    cases = {"", eye, *(["practice"] if practice else [])}
    cases |= {"glasses", "no glasses"} if glasses is None else {
        "glasses" if glasses else "no glasses"
    }
    return [step for step in text.steps if step.when in cases]
