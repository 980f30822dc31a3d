"""Outside truths: a value held against one that somebody else published, and the row that says so.

A test asks for the `truth` fixture and calls it in place of an assertion. The call fails when the
value is off; when it is not, the row must stand on the page `docs/validation.md`, word for word.
`docs/record_truths.py` runs the tests and writes that page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

PAGE = Path(__file__).parents[1] / "docs" / "validation.md"
AREAS = ("Procedures", "Eye and field", "Display", "Statistics", "Safety", "Facts of the trade")
MANY = 4
DIGITS = 12
COARSE = 1e-4


@dataclass(frozen=True)
class Row:
    """One line of the page; numbers as they are printed."""

    area: str
    source: str
    what: str
    expected: str
    ours: str
    tolerance: str
    test: str

    @property
    def line(self) -> str:
        """The row as a line of a table."""
        cells = (self.what, self.expected, self.ours, self.tolerance, f"`{self.test}`")
        return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


class Truth:
    """Holds values against outside truths on behalf of one test."""

    def __init__(self, node: Any, area: str, source: str) -> None:
        assert area in AREAS, area
        self._node, self._area, self._source = node, area, source

    def of(self, area: str, source: str) -> Truth:
        """The same for another source than the file's."""
        return Truth(self._node, area, source)

    def __call__(
        self, what: str, ours: Any, expected: Any, tolerance: float = 0.0, *, relative: bool = False
    ) -> None:
        """Fails unless every number of `ours` is within the tolerance of `expected`; 0 is exact."""
        found, wanted = _numbers(ours), _numbers(expected)
        assert found.shape == wanted.shape, f"{what}: {found.shape} values, not {wanted.shape}"
        allowed = tolerance * np.abs(wanted) if relative else tolerance
        assert np.all(np.abs(found - wanted) <= allowed), (
            f"{what}: {ours} is not {expected} within {tolerance}; source: {self._source}"
        )
        note = "exact" if tolerance == 0 else f"{tolerance:.2g}"
        self._keep(
            what, _shown(wanted), _rounded(found, tolerance, relative),
            note + (" of it" if relative else ""),
        )  # fmt: skip

    def inside(self, what: str, ours: Any, low: float, high: float) -> None:
        """Fails unless every number of `ours` lies from low to high; infinite is no bound."""
        found = _numbers(ours)
        assert np.all((found >= low) & (found <= high)), (
            f"{what}: {ours} is not within {low} to {high}; source: {self._source}"
        )
        self._keep(what, _range(low, high), _rounded(found, 5e-5, True), "within")

    def _keep(self, what: str, expected: str, ours: str, tolerance: str) -> None:
        row = Row(self._area, self._source, what, expected, ours, tolerance, self._node.nodeid)
        self._node.user_properties.append(("truth", asdict(row)))


def rows_of(properties: Iterable[tuple[str, object]]) -> list[Row]:
    """The rows among a test's properties."""
    return [Row(**fields) for name, fields in properties if name == "truth"]


def require_on_page(test: str, rows: list[Row]) -> None:
    """Fails unless the page has exactly these rows of the test."""
    there = {line for line in PAGE.read_text().splitlines() if f"| `{test}` |" in line}
    assert there == {row.line for row in rows}, (
        "docs/validation.md does not say what this test found; run docs/record_truths.py"
    )


def _numbers(values: Any) -> Any:
    return np.atleast_1d(np.asarray(values, float)).ravel()


def _plain(value: float) -> str:
    return f"{value:.{DIGITS}g}".replace("-", "\N{MINUS SIGN}")


def _shown(values: Any) -> str:
    shown = [_plain(v) for v in values[: MANY if len(values) <= MANY else MANY - 1]]
    return ", ".join(shown) + (f", … ({len(values)})" if len(values) > MANY else "")


def _rounded(values: Any, tolerance: float, relative: bool) -> str:
    """Numbers to the digit that the tolerance speaks of."""
    if tolerance == 0:
        return _shown(values)
    digits = math.ceil(-math.log10(tolerance)) + (tolerance > COARSE)
    return _shown([_at(v, digits, relative) for v in values])


def _at(value: float, digits: int, relative: bool) -> float:
    if not relative:
        return round(value, digits) + 0.0
    if value == 0:
        return 0.0
    return round(value, digits - 1 - math.floor(math.log10(abs(value)))) + 0.0


def _range(low: float, high: float) -> str:
    if math.isinf(low):
        return f"at most {high:.5g}"
    if math.isinf(high):
        return f"at least {low:.5g}"
    return f"{low:.5g} to {high:.5g}"
