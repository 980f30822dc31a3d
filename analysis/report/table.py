"""A table of the page."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """A table: caption, column heads, rows; the first cell of a row is its head."""

    name: str
    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
