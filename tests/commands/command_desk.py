"""Commands run in this process through the real entry, in a folder of their own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from stimulus.cli import run

CODE_OF_WRONG_INPUT = 2

OPTIONS = {
    "--participant": "P-017",
    "--age": "45",
    "--eye": "right",
    "--out": "out",
    "--button": "simulated:observer.toml",
    "--windowed": "1280x720",
    "--distance": "35",
    "--screen-width": "53",
    "--seed": "1",
}

PROTOCOL = """
format = 1
name = "mine"
about = "Three places."
pattern = "pattern.toml"

[stimulus]
flicker_hz = 20.0

[procedure]
kind = "rising"

[safety]
override_reason = "Only invented participants."
"""

PATTERN = """
format = 1
name = "three"
places_deg = [[0.0, 8.0], [-8.0, 0.0], [0.0, -8.0]]
"""

OBSERVER = """
format = 1
about = "Invented."
age_years = 45

[right]
centre_db = 25.0
"""

FILES = {"protocol.toml": PROTOCOL, "pattern.toml": PATTERN, "observer.toml": OBSERVER}


def run_words(protocol: str | None = "protocol.toml", **changes: str | None) -> list[str]:
    """`run` with everything it needs; a change of None leaves an option out."""
    options = dict(OPTIONS)
    for name, value in changes.items():
        option = f"--{name.replace('_', '-')}"
        options.pop(option, None)
        if value is not None:
            options[option] = value
    words = [word for pair in options.items() for word in pair]
    return ["run", *([] if protocol is None else [protocol]), *words]


@dataclass(frozen=True)
class Said:
    code: int
    output: str
    errors: str


def say(words: Iterable[str], capsys: pytest.CaptureFixture[str]) -> Said:
    code = run(list(words))
    captured = capsys.readouterr()
    return Said(code, captured.out, captured.err)


def all_files(folder: Path) -> dict[str, bytes | None]:
    """Every file with its content, every folder with None."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


@dataclass(frozen=True)
class Case:
    """A wrong command line, or right words with wrong files, and the whole line it must meet."""

    name: str
    words: list[str]
    error: str
    files: dict[str, str] = field(default_factory=dict)


def protocol_with(old: str, new: str) -> dict[str, str]:
    assert old in PROTOCOL
    return {"protocol.toml": PROTOCOL.replace(old, new)}


def pattern_with(places: str) -> dict[str, str]:
    return {"pattern.toml": PATTERN.replace("[[0.0, 8.0], [-8.0, 0.0], [0.0, -8.0]]", places)}


def observer_with(old: str, new: str) -> dict[str, str]:
    assert old in OBSERVER
    return {"observer.toml": OBSERVER.replace(old, new)}
