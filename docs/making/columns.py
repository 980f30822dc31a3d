"""Columns of tables as a page, from the code that writes them."""

from __future__ import annotations

from collections.abc import Mapping

from analysis import columns as tidy
from analysis.tables import PLACE_COLUMNS, PRESENTATION_COLUMNS
from making.words import cell, code, table
from protocols.simulate.results import COLUMNS

INTRODUCTION = """\
# Columns of tables

Made from the code that writes them. Levels are contrast dB, `20 log10(1/C)`: 0 is full contrast.
They are not the attenuation dB of other field tests.
"""


def page() -> str:
    """Every table with its columns."""
    parts = [INTRODUCTION, "## results of `ripplefield simulate`"]
    parts.append(table(["column", "meaning"], [[code(n), cell(t)] for n, t in COLUMNS.items()]))
    parts += ["## places.csv of an exam", _listed(PLACE_COLUMNS, tidy.PLACE_COLUMNS)]
    parts += [
        "## presentations.csv of an exam",
        _listed(PRESENTATION_COLUMNS, tidy.PRESENTATION_COLUMNS),
    ]
    for name in sorted(n for n in vars(tidy) if n.endswith("_COLUMNS") and not n.startswith("_")):
        title = name.removesuffix("_COLUMNS").lower()
        parts += [f"## data frame of {title}s", _tidy(getattr(tidy, name))]
    return "\n\n".join(parts) + "\n"


def _listed(names: tuple[str, ...], known: Mapping[str, tidy.Column]) -> str:
    rows = [[code(n), *_said(known.get(n))] for n in names]
    return table(["column", "unit", "meaning"], rows)


def _tidy(columns: Mapping[str, tidy.Column]) -> str:
    return table(["column", "unit", "meaning"], [[code(n), *_said(c)] for n, c in columns.items()])


def _said(column: tidy.Column | None) -> tuple[str, str]:
    return (cell(column.unit), cell(column.meaning)) if column else (" ", " ")
