"""Errors that a person can act on: what, what was given, what is allowed, what to do next."""

from __future__ import annotations


class RipplefieldError(Exception):
    """Base of every error raised on purpose."""


class InputError(RipplefieldError):
    """Something handed in is wrong. The command line turns it into one line and exit code 2."""

    def __init__(self, parameter: str, given: object, allowed: str, todo: str) -> None:
        self.parameter = parameter
        self.given = given
        self.allowed = allowed
        self.todo = todo
        super().__init__(f"{parameter}: got {_shown(given)}; allowed: {allowed}. {todo}")


class OrderError(RipplefieldError):
    """A message came in a state that cannot take it."""


class RecordStuck(RipplefieldError):
    """The record cannot be written on; what is in it is safe."""


class Interrupted(RipplefieldError):
    """The operator stopped the work; what was recorded is kept."""


def _shown(given: object) -> str:
    if isinstance(given, str):
        return f'"{given}"' if given else "nothing"
    if isinstance(given, float):
        return f"{given:g}"
    return str(given)


def require_within(parameter: str, value: float, low: float, high: float, todo: str) -> float:
    """Return `value` if low <= value <= high, else raise InputError; never clips.

    >>> require_within("age", 45, 5, 110, "Give the age in whole years.")
    45
    """
    if not low <= value <= high:
        raise InputError(parameter, value, f"{low:g} to {high:g}", todo)
    return value
