"""The page of outside truths is what the tests found: no row of its own, none missing.

Each test that holds truths compares its rows with the page when it passes (`tests/conftest.py`);
here every row of the page must belong to such a test, and the page be what is made of its rows.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "docs"))
from record_truths import HEAD, INTRODUCTION, page, with_truths
from truth_rows import AREAS, PAGE, Row, Truth

ROOT = Path(__file__).parents[2]
TEXT = PAGE.read_text()
ROW = re.compile(r"^\| (.+) \| (.+) \| (.+) \| (.+) \| `(.+)` \|$")


def _rows() -> list[Row]:
    """The page read back."""
    found, area, source = [], "", ""
    for line in TEXT.splitlines():
        if line.startswith("## "):
            area = line.removeprefix("## ")
        elif line.startswith("### "):
            source = line.removeprefix("### ")
        elif (match := ROW.match(line)) and match[1] != "what":
            what, *rest = (cell.replace("\\|", "|") for cell in match.groups())
            found.append(Row(area, source, what, *rest))
    return found


def test_every_row_belongs_to_a_test_that_holds_truths():
    rows = _rows()
    print(f"{len(rows)} rows")
    assert len(rows) > 150
    for row in rows:
        file, name = row.test.split("::")
        assert str(ROOT / file) in with_truths()
        assert f"def {name.split('[')[0]}(" in (ROOT / file).read_text()


def test_the_page_is_put_together_from_its_rows_alone():
    assert page(_rows()) == TEXT
    assert TEXT.startswith(INTRODUCTION)
    assert HEAD in TEXT


def test_every_file_that_holds_truths_is_on_the_page():
    on_page = {row.test.split("::")[0] for row in _rows()}
    assert on_page == {Path(name).relative_to(ROOT).as_posix() for name in with_truths()}


def test_all_areas_are_there():
    assert [row for row in AREAS if f"## {row}\n" not in TEXT] == []


class Node:
    nodeid = "tests/a.py::b"

    def __init__(self):
        self.user_properties = []


def test_a_value_off_its_truth_fails():
    import pytest

    node = Node()
    truth = Truth(node, "Statistics", "A source")
    truth("near", 1.0004, 1.0, 5e-4)
    for ours, tolerance in ((1.0006, 5e-4), (1.0000001, 0.0), (float("nan"), 1.0)):
        with pytest.raises(AssertionError, match="A source"):
            truth("off", ours, 1.0, tolerance)
    with pytest.raises(AssertionError, match="A source"):
        truth.inside("off", 3.1, 1, 3)
    with pytest.raises(AssertionError, match="2"):
        truth("two for one", [1.0, 1.0], 1.0, 1.0)
    assert [name for name, _ in node.user_properties] == ["truth"]


def test_a_row_that_is_not_on_the_page_fails():
    import pytest
    from truth_rows import require_on_page, rows_of

    node = Node()
    Truth(node, "Statistics", "A source")("new", 1.0, 1.0)
    with pytest.raises(AssertionError, match=r"run docs/record_truths\.py"):
        require_on_page(node.nodeid, rows_of(node.user_properties))
