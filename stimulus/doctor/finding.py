"""What a trial found, what that means, and the command that mends it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

State = Literal["good", "slow", "missing", "optional"]
"""`missing` is something that exams need; `slow` works, not as well as it could."""


@dataclass(frozen=True)
class Finding:
    """One line of the examination; `mend` is a command, empty where there is nothing to mend."""

    name: str
    state: State
    found: str
    means: str = ""
    mend: str = ""


def good(name: str, found: str, means: str = "") -> Finding:
    """All as it should be."""
    return Finding(name, "good", found, means)
