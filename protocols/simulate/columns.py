"""Columns of a CSV or Parquet table as arrays, with errors that name file, line and column."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from protocols.errors import InputError
from protocols.field import Floats
from protocols.procedures.interface import Bools

SUFFIXES = (".csv", ".parquet")


@dataclass(frozen=True)
class Columns:
    """A table in memory; `first_line` is the line of its first row, 2 below a CSV's header."""

    table: Any
    file: str
    first_line: int

    def __len__(self) -> int:
        """Number of rows."""
        return int(self.table.num_rows)

    def has(self, name: str) -> bool:
        """Whether there is a column of this name."""
        return name in self.table.column_names

    def words(self, name: str) -> NDArray[np.str_]:
        """A column as text; raises InputError for an empty field or what is no text."""
        values = self._cast(name, "string", "text", "Write the column as text.")
        return np.asarray(values.to_numpy(zero_copy_only=False), np.str_)

    def numbers(self, name: str, allowed: str) -> Floats:
        """A column as numbers; raises InputError, which says what is allowed."""
        found = self._cast(name, "double", allowed, "Write a bare number.")
        values = np.asarray(found.to_numpy(zero_copy_only=False), float)
        self.refuse(~np.isfinite(values), name, allowed, "Write a bare number.")
        return values

    def refuse(self, bad: Bools, name: str, allowed: str, todo: str) -> None:
        """Raise InputError for the first bad row, if there is one. `bad` has shape (rows,)."""
        if bad.any():
            row = int(np.argmax(bad))
            raise self.error(row, name, self.table[name][row].as_py(), allowed, todo)

    def error(self, row: int, name: str, given: object, allowed: str, todo: str) -> InputError:
        """An error about a row."""
        line = "line" if self.first_line > 1 else "row"
        where = f"{self.file}, {line} {row + self.first_line}, {name}"
        return InputError(where, "" if given is None else given, allowed, todo)

    def _cast(self, name: str, kind: str, allowed: str, todo: str) -> Any:
        import pyarrow as pa

        column = self.table[name].combine_chunks()
        self.refuse(np.asarray(column.is_null()), name, "a value", "Fill the field in.")
        try:
            return column.cast(pa.type_for_alias(kind))
        except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
            rows = (column.slice(row, 1) for row in range(len(column)))
            self.refuse(np.array([not _casts(row, kind) for row in rows]), name, allowed, todo)
            raise


def read_columns(
    path: Path, what: str, required: Sequence[str], optional: Sequence[str]
) -> Columns:
    """Read a table with exactly these columns; raises InputError that names `what`."""
    require_suffix(path, what)
    if not path.is_file():
        raise InputError(what, str(path), "a file that exists", "Check the path.")
    parquet = path.suffix == ".parquet"
    found = Columns(_parquet(path) if parquet else _csv(path), path.name, 1 if parquet else 2)
    _require_columns(found, required, optional)
    if not len(found):
        raise InputError(path.name, "no row", "at least one", "Add rows below the header.")
    return found


def require_suffix(path: Path, what: str) -> None:
    """Raise InputError unless a path ends in .csv or .parquet."""
    if path.suffix not in SUFFIXES:
        todo = "Name the file by what is in it."
        raise InputError(what, str(path), "a name that ends in .csv or .parquet", todo)


def _csv(path: Path) -> Any:
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    header = _header(path)
    try:
        return arrow_csv.read_csv(
            path,
            parse_options=arrow_csv.ParseOptions(ignore_empty_lines=False),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(header, pa.string()), strings_can_be_null=False
            ),
        )
    except pa.ArrowInvalid as error:
        raise _unreadable(path, error) from None


def _header(path: Path) -> list[str]:
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        return [name.strip('"') for name in file.readline().rstrip("\r\n").split(",")]


def _unreadable(path: Path, error: Exception) -> InputError:
    """What is wrong, with the first line that has more or fewer fields than the header."""
    allowed = "CSV in UTF-8 with a header and as many fields in each line"
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        lines = csv.reader(file)
        fields = len(next(lines, []))
        for line in lines:
            if line and len(line) != fields:
                given = f"{len(line)} fields where the header has {fields}"
                where = f"{path.name}, line {lines.line_num}"
                return InputError(where, given, allowed, "Mend the line.")
    return InputError(path.name, str(error), allowed, "Mend the file.")


def _parquet(path: Path) -> Any:
    import pyarrow as pa
    from pyarrow import parquet

    try:
        return parquet.read_table(path)
    except (pa.ArrowInvalid, OSError) as error:
        raise InputError(path.name, str(error), "a Parquet file", "Write it anew.") from None


def _require_columns(found: Columns, required: Sequence[str], optional: Sequence[str]) -> None:
    names, known = found.table.column_names, (*required, *optional)
    for name in names:
        if name not in known:
            near = get_close_matches(name, known, n=1, cutoff=0.6)
            hint = f"Did you mean {near[0]}?" if near else "Leave it out."
            raise InputError(f"{found.file}, header", name, ", ".join(known), hint)
        if names.count(name) > 1:
            raise InputError(f"{found.file}, header", f"{name} twice", "once", "Leave one out.")
    for name in required:
        if name not in names:
            raise InputError(f"{found.file}, header", f"no {name}", ", ".join(known), "Add it.")


def _casts(row: Any, kind: str) -> bool:
    """Whether an array of one value can be read as this kind."""
    import pyarrow as pa

    try:
        row.cast(pa.type_for_alias(kind))
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
        return False
    return True
