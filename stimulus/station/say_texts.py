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


def load_texts(data: Path) -> Mapping[str, Text]:
    """All languages by code; raises InputError for a file that is not one."""
    paths = [*sorted(HERE.glob("*.toml")), *sorted((data / FOLDER).glob("*.toml"))]
    texts = {}
    for path in paths:
        text = decode_toml(Text, read_text(path, "say"), path.name)
        if text.language != path.stem:
            raise InputError(
                f"{path.name}, language", text.language, path.stem, "Name the file by it."
            )
        texts[text.language] = text
    return texts


def steps_for(text: Text, eye: str, glasses: bool | None, practice: bool) -> list[Step]:
    """The steps to say before an eye, in order; both cases of glasses where it is not known."""
    cases = {"", eye, *(["practice"] if practice else [])}
    cases |= {"glasses", "no glasses"} if glasses is None else {
        "glasses" if glasses else "no glasses"
    }
    return [step for step in text.steps if step.when in cases]
