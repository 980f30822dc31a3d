"""The lessons' figures: each is on a page, gives the same twice, and its numbers hold together."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from lesson_figures import DOCS, NAMES, figure
from page_blocks import ROOT


def test_every_figure_is_on_a_page_and_every_lesson_has_one():
    used = {
        name
        for page in DOCS.rglob("*.md")
        for name in re.findall(r"^```\{lesson\} (\w+)", page.read_text(), re.MULTILINE)
    }
    assert used == set(NAMES)
    lessons = {page.stem for page in (DOCS / "learn").glob("*.md")} - {"index"}
    assert len(lessons) >= 8
    for lesson in lessons:
        assert f"```{{lesson}} {lesson}" in (DOCS / "learn" / f"{lesson}.md").read_text()


@pytest.mark.parametrize("name", NAMES)
def test_numbers_and_picture(name):
    program = figure(name)
    rows = list(program.rows())
    assert len(rows) >= 2
    assert all(len(row) == len(program.COLUMNS) for row in rows)
    picture = ElementTree.fromstring(program.svg())
    assert picture.tag.endswith("svg")
    assert rows == list(program.rows())


def test_the_same_picture_twice():
    assert figure("predictive").svg() == figure("predictive").svg()


def test_a_figure_runs_alone(tmp_path):
    """As its page says: numbers to the terminal, the picture into a file."""
    done = subprocess.run(
        [sys.executable, "docs/learn/figures/predictive.py", str(tmp_path / "p.svg")],
        capture_output=True, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    assert "3.54 %\t24.8 %\t39.8 %\t76.8 %" in done.stdout.splitlines()
    assert (tmp_path / "p.svg").read_text().startswith("<svg")


def test_half_of_the_gain_is_noise_as_the_lesson_says():
    """Truth and noise alike: what is picked comes half of the way back to the mean."""
    program = figure("regression")
    first, second = program.visits()
    picked = first < 22.0
    back = (second[picked].mean() - first[picked].mean()) / (24.0 - first[picked].mean())
    assert back == pytest.approx(0.5, abs=0.03)


def test_screening_is_shorter_and_threshold_closer():
    short, long = list(figure("screening").rows())
    assert (short[0], long[0]) == ("screen-19", "bayes-19")
    assert 2 * float(short[2]) < float(long[2])
    assert float(long[4]) < 2.0 < float(short[4])
