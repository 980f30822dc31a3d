"""Practice that was not passed waits for the operator, who repeats it or waives it from the page.

The button is a pseudo-terminal that is never pressed before the test says so.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from exam_rig import PROTOCOL, data_of, journal
from station_rig import CSV, Running, prepare, station, until

from protocols.verify import verify

PRACTISED = PROTOCOL + "\n[practice]\npresentations = 2\nneeded = 1\nrounds = 1\n"


@pytest.fixture
def port() -> Iterator[tuple[str, int]]:
    """A button box on a pseudo-terminal: its port, and our end of it."""
    ours, theirs = os.openpty()
    yield os.ttyname(theirs), ours
    os.close(ours)
    os.close(theirs)


@pytest.fixture
def desk(tmp_path, display, port) -> Iterator[Running]:
    data = prepare(tmp_path / "d", PRACTISED, f"serial:{port[0]}")
    settings = data / "station.toml"
    settings.write_text(settings.read_text() + 'start = "now"\n')
    with station(data, display) as running:
        yield running


def start(running: Running, code: str, **more: str) -> None:
    """Start the exam of the first who waits, through the form of the queue's page."""
    client = running.client()
    client.post("/queue/csv", data={"csv": CSV.splitlines()[0] + "\n" + code + "\n"})
    entry = client.get("/queue").text.split('name="entry" value="')[1].split('"')[0]
    client.post("/queue/start", data={"entry": entry, "initials": "cd", **more})


def test_practice_is_repeated_and_waived_from_the_page_and_the_record_says_by_whom(desk, browser):
    start(desk, "P-007,50,no,right,no,fr")
    folder = desk.data / "exams" / "P-007-1"
    page = browser.new_page()
    page.set_default_timeout(40_000)
    page.goto(desk.link)
    page.goto(desk.address + "/live")
    again = page.locator("[data-ask=practise-again]")
    again.wait_for(state="visible")
    assert "The practice was not passed" in page.inner_text("[data-sentence]")
    assert [line["outcome"] for line in data_of(folder, "practice")] == ["not_passed"]
    again.click()
    until(lambda: len(data_of(folder, "practice")) == 3, "another round")
    again.wait_for(state="visible")
    page.keyboard.press("w")
    page.wait_for_selector("dialog[open]")
    page.keyboard.press("Escape")  # a slip: nothing is waived
    assert len(data_of(folder, "practice")) == 3
    page.keyboard.press("w")
    page.click("[data-yes]")
    until(lambda: any(not p["practice"] for p in data_of(folder, "presented")), "testing")
    assert again.is_hidden()
    lines = [(p["outcome"], p["by"], p["round"]) for p in data_of(folder, "practice")]
    assert lines == [
        ("not_passed", "", 1), ("repeated", "", 1), ("not_passed", "", 2), ("waived", "CD", 2),
    ]  # fmt: skip
    assert "Practice waived by CD" in page.inner_text("[data-practice]")
    assert data_of(folder, "opened")[0]["language"] == "fr"
    page.keyboard.press("s")
    page.click("[data-yes]")
    until(lambda: data_of(folder, "closed"), "the close")
    page.close()
    assert verify(folder).sound
    kinds = [line["data"].get("kind") for line in journal(folder) if line["kind"] == "advised"]
    assert kinds == ["practice_waits", "practice_waits", "practice_not_passed"]


def test_practice_waived_at_the_start_is_on_record(desk):
    start(desk, "P-008,50,no,right,no,es", waive="yes")
    folder = desk.data / "exams" / "P-008-1"
    until(lambda: data_of(folder, "practice"), "the waiver")
    waived = data_of(folder, "practice")[0]
    assert (waived["outcome"], waived["by"], waived["eye"]) == ("waived", "CD", "right")
    assert data_of(folder, "opened")[0]["language"] == "es"
    client = desk.client()
    client.post("/live/ask", data={"do": "stop", "sure": "yes"})
    until(lambda: data_of(folder, "closed"), "the close")
    assert not any(p["practice"] for p in data_of(folder, "presented"))
