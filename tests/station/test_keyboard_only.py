"""The whole job by keyboard alone: no pointer is used from the door to the end of the day.

Focus is moved by Tab as a person would, and what has it must be visible.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from exam_rig import PROTOCOL, data_of
from station_rig import prepare, station, until

UNHURRIED = PROTOCOL.replace("min_s = 0.1", "min_s = 0.6").replace("max_s = 0.12", "max_s = 0.65")
MOST_TABS = 150
FOCUSED = """() => { const it = document.activeElement; const box = it.getBoundingClientRect();
  const style = getComputedStyle(it);
  return {name: (it.innerText || it.getAttribute('aria-label') || it.id || '').trim(),
    id: it.id, tag: it.tagName, shown: box.width > 0 && box.height > 0,
    outline: style.outlineStyle !== 'none' || style.boxShadow !== 'none'}; }"""


class Hands:
    """A person at the keyboard: keys and nothing else."""

    def __init__(self, page) -> None:
        self.page = page

    def focused(self) -> dict:
        return self.page.evaluate(FOCUSED)

    def tab_to(self, name: str = "", id: str = "", back: bool = False) -> None:
        """Tab until what bears this name or id has the focus; it must show that it has."""
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Shift+Tab" if back else "Tab")
            now = self.focused()
            if (id and now["id"] == id) or (name and now["name"].startswith(name)):
                assert now["shown"]
                assert now["outline"], f"{name or id} does not show its focus"
                return
        raise AssertionError(f"no way by Tab to {name or id}")

    def type_into(self, id: str, text: str) -> None:
        self.tab_to(id=id)
        for sign in text:
            self.page.keyboard.press("Enter" if sign == "\n" else sign)

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)

    def follow(self, name: str) -> None:
        """Go to a link or press a button by its words."""
        self.tab_to(name)
        self.press("Enter")


def phase(page, *wanted: str) -> None:
    page.wait_for_function(
        "wanted => wanted.includes(document.querySelector('[data-phase]')?.textContent)",
        arg=list(wanted),
    )


@pytest.fixture
def hands(tmp_path, display, browser) -> Iterator[tuple]:
    ours, theirs = os.openpty()  # a button that is never pressed: a hold lasts until it is ended
    data = prepare(tmp_path / "d", UNHURRIED, f"serial:{os.ttyname(theirs)}")
    with open(data / "station.toml", "a") as settings:
        settings.write('start = "now"\n')
    with station(data, display) as running:
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.set_default_timeout(40_000)
        page.goto(running.link)
        yield Hands(page), running, page
        page.close()
    os.close(ours)
    os.close(theirs)


def add_person(hands: Hands, page) -> None:
    hands.type_into("code", "P-001")
    hands.type_into("age", "45")
    hands.tab_to(id="eyes")
    hands.press("r")  # right eye, by its first letter
    hands.tab_to(id="flicker")
    assert page.input_value("#eyes") == "right"
    hands.press("n")
    hands.follow("Add to the queue")
    page.locator("#next-head", has_text="P-001").wait_for()


def test_from_the_door_to_the_days_end_without_a_pointer(hands):
    hand, running, page = hands
    folder = running.data / "exams" / "P-001-1"
    add_person(hand, page)
    hand.type_into("initials", "ab")
    hand.press("Tab")
    hand.press("Space")
    assert page.is_checked("[name=waive]")
    hand.follow("Start the exam")
    phase(page, "ready", "testing")
    phase(page, "testing")
    until(lambda: data_of(folder, "answered"), "an answer")
    hold_and_go_on(hand, folder, page)
    told_again(hand, folder, page)
    stop_asks_once(hand, folder, page)
    taken_up_to_its_end(hand, folder, page)
    result_and_day(hand, folder, page)


def hold_and_go_on(hand: Hands, folder, page) -> None:
    """Once with the single key, once with the button by Tab and Enter."""
    hand.press("h")
    until(lambda: data_of(folder, "held"), "the hold")
    phase(page, "held")
    hand.press("g")
    phase(page, "testing")
    held = len(data_of(folder, "held"))
    hand.tab_to("H Hold")
    hand.press("Enter")
    until(lambda: len(data_of(folder, "held")) > held, "the hold by button")
    phase(page, "held")
    hand.press("g")
    phase(page, "testing")


def told_again(hand: Hands, folder, page) -> None:
    hand.press("r")
    explained = "the task is explained again"
    until(lambda: any(h["reason"] == explained for h in data_of(folder, "held")), "the words")
    phase(page, "held")
    hand.press("g")
    phase(page, "testing")


def stop_asks_once(hand: Hands, folder, page) -> None:
    """The dialog opens on No; Escape and Enter on No stop nothing, and focus comes back."""
    for leave in ("Escape", "Enter"):
        hand.press("s")
        page.wait_for_selector("dialog[open]")
        assert hand.focused()["name"].startswith("No")
        hand.press(leave)
        page.wait_for_selector("dialog[open]", state="detached")
        assert not data_of(folder, "closed")
    hand.press("s")
    page.wait_for_selector("dialog[open]")
    hand.tab_to("Stop the exam")
    hand.press("Enter")
    phase(page, "stopped")
    until(lambda: data_of(folder, "closed"), "the close")


def taken_up_to_its_end(hand: Hands, folder, page) -> None:
    until(lambda: (folder / "result.json").exists(), "the result so far")
    page.wait_for_selector("[data-after]", state="visible")
    hand.tab_to("To the queue", back=True)
    hand.press("Enter")
    page.wait_for_url("**/queue")
    hand.follow("Go on with it")
    phase(page, "testing")
    phase(page, "finished")


def result_and_day(hand: Hands, folder, page) -> None:
    until(lambda: data_of(folder, "closed")[-1]["phase"] == "finished", "the end")
    page.wait_for_selector("[data-after]", state="visible")
    hand.tab_to("See the result")
    hand.press("Enter")
    page.wait_for_url("**/results/P-001-1")
    assert page.inner_text("h1").startswith("After P-001")
    hand.tab_to("End of the day")
    hand.press("Enter")
    page.wait_for_url("**/day")
    assert "1" in page.inner_text(".sums")
