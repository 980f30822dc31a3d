"""The whole job through the pages: a real browser, real exams in a real window, real journals.

Three participants: one straight through, one held, one told again, stopped and taken up again. The
second presses on a pseudo-terminal, as a button box would.
"""

from __future__ import annotations

import csv
import io
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

import pytest
from exam_rig import count_lines, data_of, journal
from station_rig import CSV, SLOW, prepare, station, until

from protocols import RESEARCH_ONLY
from protocols.verify import verify

LATEST_S = 0.1
"""A page tells a line of the journal within 100 ms (the station's own promise)."""

WATCH_JS = """() => { window.told = [];
  const last = document.querySelector('[data-last]');
  new MutationObserver(() => window.told.push([Date.now() / 1000, last.textContent]))
    .observe(last, {childList: true, characterData: true, subtree: true}); }"""


LAMP_JS = """() => { window.lit = []; let count = '';
  const lamp = document.querySelector('[data-press]');
  new MutationObserver(() => { if (lamp.dataset.count !== count) {
    count = lamp.dataset.count; window.lit.push(Date.now() / 1000); } })
    .observe(lamp, {attributes: true}); }"""


@pytest.fixture
def desk(tmp_path, display, browser) -> Iterator[tuple]:
    """A station, its data folder and a page that has opened it."""
    data = prepare(tmp_path / "d", SLOW)
    with station(data, display) as running:
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.set_default_timeout(40_000)
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.goto(running.link)
        yield running, page
        page.close()
        assert not wrong, wrong


@contextmanager
def box(every_s: float = 0.4) -> Iterator[tuple[str, list[float]]]:
    """A button box on a pseudo-terminal that is pressed again and again; its port, its times."""
    ours, theirs = os.openpty()
    done, times_s = threading.Event(), []

    def _press() -> None:
        while not done.wait(every_s):
            times_s.append(time.time())
            os.write(ours, b"x")

    thread = threading.Thread(target=_press, daemon=True)
    thread.start()
    yield os.ttyname(theirs), times_s
    done.set()
    thread.join()
    os.close(ours)
    os.close(theirs)


def phase(page, *wanted: str) -> None:
    page.wait_for_function(
        "wanted => wanted.includes(document.querySelector('[data-phase]')?.textContent)",
        arg=list(wanted),
    )


def start(running, page, code: str) -> None:
    page.goto(running.address + "/queue")
    assert code in page.inner_text("#next-head")
    page.fill("#initials", "ab")
    page.check("text=Waive the practice")
    page.click("text=Start the exam")
    phase(page, "ready", "testing")


def use_button(running, page, button: str) -> None:
    page.goto(running.address + "/settings")
    page.fill("#button", button)
    page.click("text=Keep")
    assert "Kept" in page.inner_text("[role=status]")


def test_three_participants_from_queue_to_the_end_of_the_day(desk):
    running, page = desk
    page.fill("#csv", CSV)
    page.click("text=Add the list")
    assert "3 added" in page.inner_text("[role=status]")
    straight_through(running, page)
    with box() as (port, pressed_s):
        use_button(running, page, f"serial:{port}")
        held(running, page, pressed_s)
    use_button(running, page, "simulated:observer.toml")
    stopped_and_taken_up(running, page)
    the_day_is_right(running, page)


def straight_through(running, page) -> None:
    start(running, page, "P-001")
    page.evaluate(WATCH_JS)
    phase(page, "finished")
    folder = running.data / "exams" / "P-001-1"
    late = delays_s(folder, page.evaluate("told"))
    middle_ms, longest_ms = (1000 * at for at in (sorted(late)[len(late) // 2], max(late)))
    print(f"line to page, {len(late)} lines: middle {middle_ms:.0f}, longest {longest_ms:.0f} ms")
    assert len(late) >= 5
    assert sorted(late)[len(late) // 2] < LATEST_S
    until(lambda: (folder / "result.json").exists(), "the result")
    page.click("text=See the result")
    assert page.inner_text("h1").startswith("After P-001")
    assert page.locator("article.exam figure svg").count() >= 4
    assert "Right eye" in page.inner_text("article .sentence")


def delays_s(folder, told) -> list[float]:
    """How long after an answer's line on disk the page had its words, seconds."""
    answers = [line for line in journal(folder) if line["kind"] == "answered"]
    shown = [entry for entry in told if "seen" in entry[1] or "no press." in entry[1]
             or "count" in entry[1]]  # fmt: skip
    delays = []
    for line in answers:
        written_s = datetime.fromisoformat(line["utc"].replace("Z", "+00:00")).timestamp()
        after = [at - written_s for at, _ in shown if at - written_s > -0.002]
        if after and min(after) < 1.0:
            delays.append(min(after))
    return delays


def held(running, page, pressed_s: list[float]) -> None:
    start(running, page, "P-002")
    page.evaluate(LAMP_JS)
    folder = running.data / "exams" / "P-002-1"
    phase(page, "testing")
    until(lambda: len(data_of(folder, "answered")) >= 2, "two answers")
    page.keyboard.press("h")
    until(lambda: data_of(folder, "held"), "the hold")
    page.keyboard.press("g")  # the box is pressed all the time and may have gone on already
    phase(page, "finished")
    lit_s = page.evaluate("lit")
    late = [min(after) for at in lit_s if (after := [at - p for p in pressed_s if p <= at])]
    print(f"press to page, {len(late)} presses: longest {1000 * max(late):.0f} ms")
    assert len(late) >= 5
    assert sorted(late)[len(late) // 2] < LATEST_S
    reasons = [line["reason"] for line in data_of(folder, "held")]
    assert reasons[0] == "held by the operator"
    assert data_of(folder, "resumed")[0]["after"] == "held"
    assert data_of(folder, "opened")[0]["button"]["name"].startswith("serial:")


def stopped_and_taken_up(running, page) -> None:
    start(running, page, "P-003")
    folder = running.data / "exams" / "P-003-1"
    phase(page, "testing")
    until(lambda: len(data_of(folder, "answered")) >= 1, "an answer")
    page.keyboard.press("r")
    until(lambda: data_of(folder, "held"), "the instruction")
    phase(page, "testing", "held")
    until(lambda: data_of(folder, "resumed"), "going on")
    phase(page, "testing")
    page.keyboard.press("s")
    page.wait_for_selector("dialog[open]")
    page.keyboard.press("Escape")  # a slip: nothing is stopped
    time.sleep(0.2)
    assert not data_of(folder, "closed")
    page.click("[data-ask=stop]")
    page.click("[data-yes]")
    phase(page, "stopped")
    assert data_of(folder, "held")[0]["reason"] == "the task is explained again"
    until(lambda: (folder / "result.json").exists(), "the result so far")
    page.goto(running.address + "/queue")
    page.click("text=Go on with it")
    phase(page, "held", "testing")
    phase(page, "finished")
    kinds = [line["kind"] for line in journal(folder)]
    assert kinds.count("closed") == 2
    assert kinds[-1] == "closed"


def the_day_is_right(running, page) -> None:
    page.goto(running.address + "/day")
    sums = dict(
        zip(page.locator(".sums dt").all_inner_texts(), page.locator(".sums dd").all_inner_texts(),
            strict=True)
    )  # fmt: skip
    assert (sums["people"], sums["sessions"], sums["finished"], sums["stopped"]) == (
        "3", "3", "3", "0",
    )  # fmt: skip
    client = running.client()
    rows = list(csv.DictReader(io.StringIO(client.get("/day.csv").text)))
    assert [row["code"] for row in rows] == ["P-001", "P-002", "P-003"]
    assert {row["operator"] for row in rows} == {"AB"}
    assert {row["notice"] for row in rows} == {RESEARCH_ONLY}
    for exam in ("P-001-1", "P-002-1", "P-003-1"):
        found = verify(running.data / "exams" / exam)
        assert found.sound
        assert found.closed
    # presentations of a row are those of its journal, counted apart from the station
    for row in rows:
        folder = running.data / "exams" / row["exam"]
        shown = data_of(folder, "presented")
        assert int(row["presentations"]) == len(shown)
        assert int(row["frames_late"]) == sum(one["frames_late"] for one in shown)


def test_the_exam_goes_on_when_the_station_is_killed_and_the_next_one_takes_it_up(
    tmp_path, display, browser
):
    data = prepare(tmp_path / "d", SLOW)
    folder = data / "exams" / "P-001-1"
    with station(data, display) as first:
        client = first.client()
        client.post("/queue/csv", data={"csv": CSV})
        entry = client.get("/queue").text.split('name="entry" value="')[1].split('"')[0]
        begun = client.post(
            "/queue/start", data={"entry": entry, "initials": "AB", "waive": "yes"}
        )
        assert begun.headers["location"] == "/live"
        until(lambda: count_lines(folder) >= 6, "the exam")
        first.program.kill()
        first.program.wait()
    before = count_lines(folder)
    until(lambda: count_lines(folder) > before + 1, "the exam going on alone")
    with station(data, display) as second:
        page = browser.new_page()
        page.set_default_timeout(40_000)
        page.goto(second.link)
        assert page.url.endswith("/live")
        phase(page, "testing")
        page.click("[data-ask=hold]")
        until(lambda: data_of(folder, "held"), "the hold")
        phase(page, "finished")
        page.close()
        assert verify(folder).sound
        client = second.client()
        until(lambda: 'pill finished">' in client.get("/queue").text, "the queue's state")
