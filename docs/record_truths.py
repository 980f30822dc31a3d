"""Write `docs/validation.md` from the tests: run those that hold values against outside truths.

python docs/record_truths.py
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path

ROOT = Path(__file__).parents[1]
TESTS = ROOT / "tests"
sys.path.insert(0, str(TESTS))

from truth_rows import AREAS, PAGE, Row  # noqa: E402

INTRODUCTION = """\
# Validation: others' numbers and ours

Each row is a number that somebody outside this project published, or that follows from a published
formula, beside what this code finds today. The page is written by the tests themselves
(`docs/record_truths.py` runs them): a row stands here only if its test passed, and the same test
fails when the row no longer agrees with what it finds. Rows marked "from memory" say so.

Where the tolerance is "exact" the two are equal; "of it" marks a tolerance relative to the value.
Wide tolerances belong to simulations: the test says why.

A row shows that a formula or a method is the published one. It does not show that an exam finds
loss in people: no person was measured. **Research use only. This is not a diagnosis: local rules
and licensed practice decide.**
"""
HEAD = "| what | published | ours | tolerance | test |\n|---|---|---|---|---|"


def with_truths() -> list[str]:
    """Test files that ask for the `truth` fixture."""
    asks = re.compile(r"def test_\w+\(\s*truth\b")
    return [str(p) for p in sorted(TESTS.rglob("test_*.py")) if asks.search(p.read_text())]


def record() -> list[Row]:
    """Run the tests and read the rows that they kept."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "truths.json"
        command = [sys.executable, "-m", "pytest", *with_truths(), "--truths", str(kept)]
        subprocess.run([*command, "-p", "no:cacheprovider"], cwd=ROOT, check=True)
        return [Row(**fields) for fields in json.loads(kept.read_text())]


def page(rows: Iterable[Row]) -> str:
    """The page of these rows, by area and source."""
    ordered = sorted(rows, key=lambda row: (AREAS.index(row.area), row.source))
    parts = [INTRODUCTION]
    for area, of_area in groupby(ordered, lambda row: row.area):
        parts.append(f"## {area}\n")
        for source, of_source in groupby(of_area, lambda row: row.source):
            parts.append(f"### {source}\n\n{HEAD}")
            parts.append("\n".join(row.line for row in of_source) + "\n")
    return "\n".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(record()))
    print(f"{PAGE}: written")
