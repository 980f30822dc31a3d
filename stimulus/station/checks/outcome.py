"""What a check found: good or bad with what to do, or not tried yet."""

from __future__ import annotations

from typing import Literal

import msgspec

State = Literal["good", "bad", "not tried"]


class Outcome(msgspec.Struct, frozen=True):
    """One check: what was found, in numbers, and what to do if it is bad."""

    name: str
    title: str
    state: State
    said: str
    todo: str = ""


def good(name: str, title: str, said: str) -> Outcome:
    """A check that was passed."""
    return Outcome(name, title, "good", said)


def bad(name: str, title: str, said: str, todo: str) -> Outcome:
    """A check that was not passed."""
    return Outcome(name, title, "bad", said, todo)


def not_tried(name: str, title: str, todo: str) -> Outcome:
    """A check that is still to be made."""
    return Outcome(name, title, "not tried", "Not tried yet.", todo)
