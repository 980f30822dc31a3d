"""Rows of a state: some exams taken out, and put back changed. For nested dataclasses."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, TypeVar, cast

import numpy as np

from protocols.procedures.interface import Ints

T = TypeVar("T")


def rows_of(state: T, rows: Ints) -> T:
    """Some exams of a state, or of any part of one."""
    changed: dict[str, Any] = {}
    for field in fields(cast(Any, state)):
        value = getattr(state, field.name)
        changed[field.name] = value[rows] if isinstance(value, np.ndarray) else rows_of(value, rows)
    return cast(T, replace(cast(Any, state), **changed))


def with_rows(state: T, rows: Ints, new: T) -> T:
    """The state with some exams exchanged for those of `new`."""
    changed: dict[str, Any] = {}
    for field in fields(cast(Any, state)):
        old, other = getattr(state, field.name), getattr(new, field.name)
        changed[field.name] = (
            _put(old, rows, other) if isinstance(old, np.ndarray) else with_rows(old, rows, other)
        )
    return cast(T, replace(cast(Any, state), **changed))


def _put(old: Any, rows: Ints, new: Any) -> Any:
    changed = old.copy()
    changed[rows] = new
    return changed
