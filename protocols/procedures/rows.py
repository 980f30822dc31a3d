"""Rows of a state taken out and put back changed: frozen dataclasses of arrays, nested ones too."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import fields, replace
from functools import cache
from typing import Any, TypeVar, cast

import numpy as np

from protocols.procedures.interface import Bools, Ints

T = TypeVar("T")
At = Bools | Ints | slice | tuple[Ints, Ints] | tuple[slice, slice]
"""Exams by flag, number or stretch, or cells of (exams, places)."""


def rows_of(state: T, rows: At) -> T:
    """Some exams or cells of a state, or of any part of one."""
    if isinstance(state, np.ndarray):
        return cast(T, state[rows])
    parts = cast(Any, state)
    changed = {name: rows_of(getattr(parts, name), rows) for name in _names(parts)}
    return cast(T, replace(parts, **changed))


def with_rows(state: T, at: At, new: T) -> T:
    """The state with some exams or cells exchanged for those of `new`."""
    if isinstance(state, np.ndarray):
        copied = state.copy()
        copied[at] = new
        return cast(T, copied)
    parts = cast(Any, state)
    changed = {
        name: with_rows(getattr(parts, name), at, getattr(new, name))
        for name in _names(parts)
    }
    return cast(T, replace(parts, **changed))


def joined(states: Sequence[T]) -> T:
    """States one after the other, as one."""
    if isinstance(states[0], np.ndarray):
        return cast(T, np.concatenate(cast(Any, states)))
    changed = {
        name: joined([getattr(state, name) for state in states]) for name in _names(states[0])
    }
    return cast(T, replace(cast(Any, states[0]), **changed))


def _names(parts: Any) -> tuple[str, ...]:
    return _names_of(cast(Hashable, type(parts)))


@cache
def _names_of(kind: Hashable) -> tuple[str, ...]:
    return tuple(field.name for field in fields(cast(Any, kind)))
