"""The table of observers: CSV or Parquet, one row a place, read strictly.

Columns: observer, age_years, eye, x_deg, y_deg, sensitivity_db (delivered contrast dB); optional
slope_db, lapse_rate, false_press_rate. Each observer and eye has every place of the pattern once,
within 0.1 degrees. An error names file, line and column.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from protocols.errors import InputError
from protocols.field import EYES, Eye, Floats, Place
from protocols.observer import Pressing, Seeing
from protocols.pattern import Pattern
from protocols.procedures.interface import Ints
from protocols.simulate.columns import Columns, read_columns
from protocols.simulate.watchers import Watchers

_UNFIT = re.compile(r'[,"\r\n]')
NEAR_DEG = 0.1
"""How far a place of the table may lie from the pattern's."""


@dataclass(frozen=True)
class Bounds:
    """What a number may be and what stands in for one that is not given."""

    low: float
    high: float
    default: float | None = None
    whole: bool = False


NUMBERS = {
    "age_years": Bounds(5, 110, whole=True),
    "x_deg": Bounds(-80, 80),
    "y_deg": Bounds(-80, 80),
    "sensitivity_db": Bounds(-60, 60),
    "slope_db": Bounds(0.05, 20, Seeing().slope_db),
    "lapse_rate": Bounds(0, 1, Seeing().lapse_rate),
    "false_press_rate": Bounds(0, 1, Pressing().false_press_rate),
}
REQUIRED = ("observer", "eye", *(name for name, b in NUMBERS.items() if b.default is None))
OPTIONAL = tuple(name for name, bounds in NUMBERS.items() if bounds.default is not None)


@dataclass(frozen=True)
class Observers:
    """One entry for each observer and eye, in the order they first appear.

    Codes and eyes (n,); ages (n,); who they are as arrays (n, places) in the pattern's order.
    """

    codes: NDArray[np.str_]
    eyes: NDArray[np.str_]
    ages: Ints
    watchers: Watchers

    def __len__(self) -> int:
        """Observers times eyes."""
        return len(self.codes)


def read_observers(path: Path, pattern: Pattern) -> Observers:
    """Read and check a table of observers; raises InputError."""
    table = read_columns(path, "--observers", REQUIRED, OPTIONAL)
    codes, eyes = table.words("observer"), table.words("eye")
    _refuse_unfit_words(table, codes, eyes)
    numbers = {name: _number(table, name, bounds) for name, bounds in NUMBERS.items()}
    place = _places(table, pattern, eyes, numbers["x_deg"], numbers["y_deg"])
    entry, first = _entries(codes, eyes)
    at = _arranged(table, pattern, codes, eyes, entry, place, len(first))
    for name in ("age_years", "false_press_rate"):
        _require_same(table, name, numbers[name], entry, first)
    return Observers(
        codes=codes[first],
        eyes=eyes[first],
        ages=numbers["age_years"][first].astype(np.int64),
        watchers=Watchers(
            numbers["sensitivity_db"][at],
            numbers["slope_db"][at],
            numbers["lapse_rate"][at],
            numbers["false_press_rate"][first],
        ),
    )


def _number(table: Columns, name: str, bounds: Bounds) -> Floats:
    if not table.has(name):
        assert bounds.default is not None
        return np.full(len(table), bounds.default)
    kind = "a whole number" if bounds.whole else "a number"
    allowed = f"{kind} from {bounds.low:g} to {bounds.high:g}"
    values = table.numbers(name, allowed)
    good = (values >= bounds.low) & (values <= bounds.high)
    if bounds.whole:
        good &= values == np.rint(values)
    table.refuse(~good, name, allowed, "Correct the value.")
    return values


def _refuse_unfit_words(
    table: Columns, codes: NDArray[np.str_], eyes: NDArray[np.str_]
) -> None:
    table.refuse(~np.isin(eyes, EYES), "eye", "right or left", "Write the eye in full.")
    unfit = np.array([_UNFIT.search(code) is not None for code in np.unique(codes).tolist()])
    bad = np.isin(codes, np.unique(codes)[unfit])
    allowed = "a code without commas, quotation marks and line breaks"
    table.refuse((codes == "") | bad, "observer", allowed, "Give each observer a plain code.")


def _places(
    table: Columns, pattern: Pattern, eyes: NDArray[np.str_], x_deg: Floats, y_deg: Floats
) -> Ints:
    """Number of the pattern's place of each row."""
    found = np.zeros(len(table), np.int64)
    for eye in EYES:
        rows = np.flatnonzero(eyes == eye)
        number, apart = _nearest(pattern, eye, x_deg[rows], y_deg[rows])
        found[rows] = number
        if (apart > NEAR_DEG).any():
            worst = int(rows[np.argmax(apart > NEAR_DEG)])
            nearest = pattern.for_eye(eye)[found[worst]]
            raise table.error(
                worst,
                "x_deg, y_deg",
                f"({x_deg[worst]:g}, {y_deg[worst]:g}) deg",
                f"a place of {pattern.name} for the {eye} eye within {NEAR_DEG:g} degrees; the "
                f"nearest is {_named(nearest)}",
                "Move the place or use the pattern it belongs to.",
            )
    return found


def _nearest(pattern: Pattern, eye: Eye, x_deg: Floats, y_deg: Floats) -> tuple[Ints, Floats]:
    best = np.zeros(len(x_deg), np.int64)
    apart = np.full(len(x_deg), np.inf)
    for number, place in enumerate(pattern.for_eye(eye)):
        distance = np.hypot(x_deg - place.x_deg, y_deg - place.y_deg)
        best[distance < apart] = number
        apart = np.minimum(apart, distance)
    return best, apart


def _entries(codes: NDArray[np.str_], eyes: NDArray[np.str_]) -> tuple[Ints, Ints]:
    """Entry of each row, and the first row of each entry, entries by first appearance."""
    _, code = np.unique(codes, return_inverse=True)
    pair = 2 * code + (eyes == EYES[1])
    _, first, sorted_entry = np.unique(pair, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return rank[sorted_entry], first[order]


def _arranged(
    table: Columns,
    pattern: Pattern,
    codes: NDArray[np.str_],
    eyes: NDArray[np.str_],
    entry: Ints,
    place: Ints,
    entries: int,
) -> Ints:
    """Row of each entry and place, (entries, places)."""
    count = len(pattern.places)
    cell = entry * count + place
    order = np.argsort(cell, kind="stable")
    twice = np.flatnonzero(np.diff(cell[order]) == 0)
    if len(twice):
        row = int(order[twice + 1].min())
        where = _named(pattern.for_eye(_eye(eyes[row]))[place[row]])
        raise table.error(
            row,
            "x_deg, y_deg",
            f"the place {where} of observer {codes[row]}, {eyes[row]} eye, once more",
            "each place once",
            "Leave one of the two rows out.",
        )
    if len(order) != entries * count:
        raise _missing(table, pattern, codes, eyes, entry, place)
    return order.reshape(entries, count)


def _missing(
    table: Columns,
    pattern: Pattern,
    codes: NDArray[np.str_],
    eyes: NDArray[np.str_],
    entry: Ints,
    place: Ints,
) -> InputError:
    count = len(pattern.places)
    short = int(np.argmax(np.bincount(entry) < count))
    rows = np.flatnonzero(entry == short)
    absent = min(set(range(count)) - set(place[rows].tolist()))
    eye = _eye(eyes[rows[0]])
    return table.error(
        int(rows[-1]),
        "x_deg, y_deg",
        f"no place {_named(pattern.for_eye(eye)[absent])} for observer {codes[rows[0]]}, {eye} eye",
        f"all {count} places of {pattern.name}",
        "Add the row.",
    )


def _eye(word: str) -> Eye:
    return "right" if word == "right" else "left"


def _require_same(
    table: Columns, name: str, values: Floats, entry: Ints, first: Sequence[int] | Ints
) -> None:
    told = values[np.asarray(first)][entry]
    table.refuse(
        values != told,
        name,
        "the same in all rows of an observer's eye",
        "Make the rows agree.",
    )


def _named(place: Place) -> str:
    return f"({round(place.x_deg, 4) + 0.0:g}, {round(place.y_deg, 4) + 0.0:g}) deg"
