"""The queue as CSV: read with every error by line and column, written safe for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import msgspec

from protocols.codes import require_code
from protocols.errors import InputError
from stimulus.station.queue import (
    EYES,
    FLICKER,
    MOST_ENTRIES,
    Entry,
    Eyes,
    Flicker,
    Queue,
    new_entry,
)

COLUMNS = ("code", "age", "glasses", "eyes", "photosensitive", "language")
YES_NO = {"yes": True, "no": False}
EXAMPLE = "code,age,glasses,eyes,photosensitive,language\nP-017,45,yes,both,no,en\n"
_FORMULA = ("=", "+", "-", "@", "\t", "|", "%")


@dataclass(frozen=True)
class CsvError:
    """What is wrong in one cell; line 1 is the header."""

    line: int
    column: str
    given: str
    allowed: str

    def __str__(self) -> str:
        given = f'"{self.given}"' if self.given else "nothing"
        return f"Line {self.line}, column {self.column}: got {given}; allowed: {self.allowed}."


class CsvErrors(InputError):
    """A file that was not taken, with all that is wrong in it."""

    def __init__(self, errors: Sequence[CsvError]) -> None:
        self.errors = tuple(errors)
        count = "1 error" if len(errors) == 1 else f"{len(errors)} errors"
        super().__init__(
            "CSV", count, "a file without errors", "Nothing was added. Correct it and try again."
        )


def read_csv(text: str, languages: Sequence[str], queue: Queue) -> list[Entry]:
    """Entries of a CSV with the columns of `COLUMNS` in any order, by commas or semicolons.

    Raises CsvErrors with every error found; then nothing is to be added.
    """
    rows = _rows(text.removeprefix("\ufeff"))
    header = [name.strip().lower() for name in rows[0][1]]
    _require_header(header)
    known = {entry.code.casefold(): "the queue" for entry in queue.entries}
    errors: list[CsvError] = []
    entries: list[Entry] = []
    for line, cells in rows[1:]:
        if len(cells) != len(header):
            errors.append(
                CsvError(line, "all", f"{len(cells)} cells", f"{len(header)}, as in the header")
            )
            continue
        given = {name: cell.strip() for name, cell in zip(header, cells, strict=True)}
        found = _entry(line, given, languages, known)
        if isinstance(found, Entry):
            entries.append(found)
        else:
            errors.extend(found)
        known.setdefault(given["code"].casefold(), f"line {line}")
    if errors:
        raise CsvErrors(errors)
    return entries


def _rows(text: str) -> list[tuple[int, list[str]]]:
    first = text.split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows, line = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((line, cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise CsvErrors([CsvError(line, "all", str(error), "plain CSV")]) from None
    if not rows:
        raise CsvErrors([CsvError(1, "all", "", ", ".join(COLUMNS))])
    if len(rows) > MOST_ENTRIES + 1:
        raise CsvErrors(
            [CsvError(rows[-1][0], "all", f"{len(rows) - 1} rows", f"up to {MOST_ENTRIES}")]
        )
    return rows


def _require_header(header: Sequence[str]) -> None:
    allowed = ", ".join(COLUMNS)
    errors = [CsvError(1, name or "(no name)", name, allowed) for name in header
              if name not in COLUMNS]  # fmt: skip
    errors += [CsvError(1, name, f"it {header.count(name)} times", "each column once")
               for name in COLUMNS if header.count(name) > 1]  # fmt: skip
    errors += [CsvError(1, name, "", f"this column; all are needed: {allowed}")
               for name in COLUMNS if name not in header]  # fmt: skip
    if errors:
        raise CsvErrors(errors)


def _entry(
    line: int, given: Mapping[str, str], languages: Sequence[str], known: Mapping[str, str]
) -> Entry | list[CsvError]:
    errors = [
        CsvError(line, column, given[column], allowed)
        for column, allowed in _wrong_cells(given, languages, known)
    ]
    if errors:
        return errors
    return new_entry(
        given["code"],
        int(given["age"]),
        YES_NO[given["glasses"].lower()],
        msgspec.convert(given["eyes"].lower(), Eyes),
        msgspec.convert(given["photosensitive"].lower(), Flicker),
        given["language"].lower(),
    )


def _wrong_cells(
    given: Mapping[str, str], languages: Sequence[str], known: Mapping[str, str]
) -> Iterable[tuple[str, str]]:
    taken = known.get(given["code"].casefold())
    if taken:
        yield "code", f"a code that is not in {taken} already"
    yield from _wrong_code(given["code"])
    if not _is_age(given["age"]):
        yield "age", "whole years from 5 to 110"
    for column, allowed in (
        ("glasses", tuple(YES_NO)),
        ("eyes", EYES),
        ("photosensitive", FLICKER),
        ("language", tuple(languages)),
    ):
        if given[column].lower() not in allowed:
            yield column, ", ".join(allowed)


def _is_age(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9 and 5 <= int(text) <= 110


def _wrong_code(code: str) -> Iterable[tuple[str, str]]:
    try:
        require_code(code)
    except InputError as error:
        yield "code", f"{error.allowed}. {error.todo}".rstrip(".")


def safe_csv(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """CSV text whose cells no spreadsheet takes for formulas.

    OWASP's advice on CSV injection: a text that begins with a sign of a formula gets an apostrophe
    before it, and line breaks become spaces. Numbers stay numbers.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return text.getvalue()


def safe_cell(cell: object) -> object:
    """One cell, harmless.

    >>> safe_cell("=1+1"), safe_cell(-3.5), safe_cell("P-017")
    ("'=1+1", -3.5, 'P-017')
    """
    if not isinstance(cell, str):
        return cell
    line = " ".join(cell.split("\r")).replace("\n", " ")
    return f"'{line}" if line.lstrip(" ").startswith(_FORMULA) else line
