"""A day of many sessions on paper: a page of sums, then the table, its head on every page."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from day_rig import happened
from station_rig import station

from protocols import RESEARCH_ONLY

SESSIONS = 70


@pytest.fixture(scope="module")
def pages(tmp_path_factory, browser) -> list[str]:
    """The text of each printed page. The sessions are copies of one exam: only rows count here."""
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext: apt-get install poppler-utils")
    folder = tmp_path_factory.mktemp("long")
    data = happened(folder / "d", people=1)
    exams = data / "exams"
    for number in range(1, SESSIONS):
        shutil.copytree(exams / "P-000-1", exams / f"P-000-{number + 1}")
    with station(data, "") as running:
        page = browser.new_page()
        page.goto(running.link)
        page.goto(f"{running.address}/day")
        page.pdf(path=str(folder / "day.pdf"), format="A4")
        page.close()
    text = subprocess.run(
        ["pdftotext", "-layout", str(folder / "day.pdf"), "-"],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    return text.split("\f")[:-1]


def test_the_first_page_holds_the_sums_alone(pages):
    assert "In numbers" in pages[0]
    assert "By operator" in pages[0]
    assert "Begun, UTC" not in pages[0]


def test_the_tables_head_and_the_research_line_are_on_every_page_that_follows(pages):
    assert len(pages) >= 3
    for page in pages[1:]:
        assert "Begun, UTC" in page
        assert RESEARCH_ONLY in " ".join(page.split())


def test_every_session_has_its_row_and_none_is_torn(pages):
    rows = [line for page in pages[1:] for line in page.splitlines() if line.count(" min ") == 1]
    assert len(rows) == SESSIONS
    assert all("09:00" in row and "AB" in row for row in rows)


def test_research_only_stands_on_the_first_page_too(pages):
    head = " ".join(pages[0].split())[:300]  # beside the name, so its line is broken by it
    assert set(RESEARCH_ONLY.split()) <= set(head.split())
