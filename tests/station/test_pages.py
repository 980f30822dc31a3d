"""Every page in a real browser: readable for all, narrow and wide, light and dark, by keyboard.

Outside truth: axe-core's rules for WCAG 2.2, run on each page as a browser shows it.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from day_rig import happened
from station_rig import Running, station, until

from protocols import RESEARCH_ONLY
from stimulus.station.runs import Run
from stimulus.station.say_texts import HERE

PAGES = ("checks", "queue", "say", "live", "results", "results/P-001-1", "day", "settings",
         "results/nobody")  # fmt: skip


@pytest.fixture(scope="module")
def seen(tmp_path_factory) -> Iterator[Running]:
    """A station with a day behind it, and the last of its exams on the live page."""
    import msgspec

    data = happened(tmp_path_factory.mktemp("day") / "d")
    (data / "say").mkdir(exist_ok=True)
    english = (HERE / "en.toml").read_text()
    other = english.replace('"en"', '"he"').replace('"ltr"', '"rtl"').replace("English", "Other")
    (data / "say" / "he.toml").write_text(other)
    (data / "runs").mkdir(exist_ok=True)
    last = msgspec.json.encode(Run("P-001-1", "", 2**22 + 7))
    (data / "runs" / "current.json").write_bytes(last)
    with station(data, "") as found:
        yield found


@pytest.fixture(scope="module")
def page(seen, browser):
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    opened.goto(seen.link)
    yield opened
    opened.close()


@pytest.fixture(autouse=True)
def as_usual(page):
    yield
    page.set_viewport_size({"width": 1280, "height": 900})
    page.emulate_media(color_scheme="light")


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(seen, page, path, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")
    page.emulate_media(color_scheme=scheme)
    page.goto(f"{seen.address}/{path}")
    found = axe.Axe().run(page).response["violations"]
    serious = [
        f"{one['id']} ({one['impact']}): {[n['html'][:120] for n in one['nodes']][:3]}"
        for one in found
        if one["impact"] in ("serious", "critical", "moderate")
    ]
    assert not serious, "\n".join(serious)


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("width", [320, 1920])
def test_no_page_is_wider_than_its_window(seen, page, path, width):
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(f"{seen.address}/{path}")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """() => [...document.querySelectorAll('p, li, td, th, label, button, dd, dt, a')]
        .filter(e => e.checkVisibility() && e.textContent.trim() && !e.closest('svg'))
        .filter(e => parseFloat(getComputedStyle(e).fontSize) < 12).map(e => e.textContent)"""
    )
    assert not small


@pytest.mark.parametrize("path", PAGES)
def test_every_page_says_research_only_and_loads_nothing_from_outside(seen, page, path):
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{seen.address}/{path}")
    assert RESEARCH_ONLY in page.inner_text("header")
    assert RESEARCH_ONLY in page.inner_text("footer.foot")
    assert page.locator("h1").count() == 1
    assert page.evaluate("document.title").endswith("Ripplefield station")
    assert all(url.startswith(seen.address) for url in asked)


def test_the_whole_queue_works_by_keyboard_alone(seen, page):
    page.goto(f"{seen.address}/queue")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the page"
    reached = set()
    for _ in range(120):
        page.keyboard.press("Tab")
        reached.add(page.evaluate(
            "(document.activeElement.getAttribute('aria-label') || "
            "document.activeElement.textContent || document.activeElement.id).trim()"
        ))  # fmt: skip
    for words in ("Start the exam", "Move up: W-001", "No-show: W-000", "Keep the answer: Q-001",
                  "Back to waiting: N-001", "Repeat: P-000", "Add to the queue",
                  "Add the list"):  # fmt: skip
        assert words in reached, sorted(reached)


def test_focus_is_seen(seen, page):
    page.goto(f"{seen.address}/queue")
    for _ in range(6):
        page.keyboard.press("Tab")
        width = page.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)")
        assert width >= 2


def test_a_csv_with_errors_says_each_by_line_and_column_and_adds_nothing(seen, page):
    page.goto(f"{seen.address}/queue")
    before = page.locator(".person").count()
    text = (
        "code,age,glasses,eyes,photosensitive,language\n"
        "Maria,40,no,both,no,en\nP-500,200,perhaps,both,no,en\nP-501,40,no,both,no\n"
        "P-502,40,no,third,no,xx\nW-000,40,no,both,no,en\n"
    )
    page.fill("#csv", text)
    page.click("text=Add the list")
    said = page.inner_text("#csv-errors")
    for words in ("Line 2, column code", "Line 3, column age", "Line 3, column glasses",
                  "Line 4, column all", "Line 5, column eyes", "Line 5, column language",
                  "Line 6, column code"):  # fmt: skip
        assert words in said
    assert "7 things are wrong" in said
    assert page.input_value("#csv") == text.strip()
    assert page.locator(".person").count() == before


def test_reordering_no_show_and_repeat(seen, page):
    page.goto(f"{seen.address}/queue")
    page.click("[aria-label='Move to the front: W-001']")
    assert page.inner_text("#next-head").endswith("W-001")
    page.click("[aria-label='Move down: W-001']")
    assert page.inner_text("#next-head").endswith("W-000")
    page.click("[aria-label='No-show: W-000']")
    assert page.inner_text("#next-head").endswith("W-001")
    page.click("[aria-label='Back to waiting: W-000']")
    assert page.inner_text("#next-head").endswith("W-000")
    page.click("[aria-label='Repeat: P-000']")
    assert "repeat: advice" in page.inner_text("li.person:has-text('P-000')")


def test_who_answered_yes_cannot_be_started(seen):
    client = seen.client()
    text = client.get("/queue").text
    at = text.index("<strong>X-001</strong>")
    entry = text[:at].split('id="e-')[-1].split('"')[0]
    client.post("/queue/start", data={"entry": entry, "initials": "AB"})
    assert "does not take part" in client.get("/queue").text.split("Not done.")[1][:80]
    assert not (seen.data / "exams" / "X-001-1").exists()


def test_a_correction_leaves_a_trace_and_the_code_follows(seen, page):
    folder = seen.data / "exams" / "P-003-1"
    before = (folder / "journal.jsonl").read_bytes()
    page.goto(f"{seen.address}/results/P-003-1")
    page.fill("#c-code", "P-333")
    page.fill("#c-by", "ef")
    page.click("text=Correct the code")
    assert "code was P-003, is P-333 (by EF)" in page.inner_text("main")
    after = (folder / "journal.jsonl").read_bytes()
    assert after.startswith(before)
    assert after.count(b"\n") == before.count(b"\n") + 1
    assert b'"kind":"corrected"' in after.splitlines()[-1]
    page.goto(f"{seen.address}/day?date=2030-01-02")
    assert "P-333 (corrected)" in page.inner_text(".sessions")
    page.goto(f"{seen.address}/results/P-003-1")
    page.fill("#c-code", "Maria")
    page.fill("#c-by", "EF")
    page.click("text=Correct the code")
    assert "Not done." in page.inner_text("[role=alert]")
    assert (folder / "journal.jsonl").read_bytes() == after


def test_a_text_that_runs_from_right_to_left_is_a_plain_file_away(seen, page):
    page.set_viewport_size({"width": 320, "height": 800})
    page.goto(f"{seen.address}/say?language=he")
    spoken = page.locator(".aloud").first
    assert spoken.evaluate("e => getComputedStyle(e).direction") == "rtl"
    assert page.locator("h1").evaluate("e => getComputedStyle(e).direction") == "ltr"
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize(("language", "glasses"), [("en", "glasses"), ("es", "gafas"),
                                                    ("fr", "lunettes")])  # fmt: skip
def test_the_text_to_say_fits_the_participant(seen, page, language, glasses):
    page.goto(f"{seen.address}/say?language={language}")
    said = page.inner_text("main")
    assert glasses in said.lower()
    assert page.locator(f"[lang={language}] .aloud").count() >= 12


@pytest.mark.parametrize(("path", "landscape"), [("day", True), ("results/P-000-1", False)])
def test_a_printed_day_and_a_printed_result_are_one_page(seen, page, tmp_path, path, landscape):
    import subprocess

    page.goto(f"{seen.address}/{path}")
    page.pdf(path=str(tmp_path / "day.pdf"), format="A4", landscape=landscape)
    told = subprocess.run(
        ["pdfinfo", str(tmp_path / "day.pdf")], capture_output=True, text=True, check=True
    )
    assert "Pages:           1" in told.stdout


def test_the_live_page_shows_the_field_in_true_degrees(seen, page):
    page.goto(f"{seen.address}/live")
    page.wait_for_selector(".live-field .done-place")
    centres = page.eval_on_selector_all(
        ".live-field .done-place, .live-field .begun-place, .live-field .todo-place",
        "all => all.map(c => [c.cx.baseVal.value, -c.cy.baseVal.value])",
    )
    from protocols.library import load_protocol

    wanted = load_protocol("screen-19").pattern.for_eye("left")
    assert len(centres) == len(wanted)
    for (x, y), place in zip(centres, wanted, strict=True):
        assert abs(x - place.x_deg) < 0.01
        assert abs(y - place.y_deg) < 0.01
    spot = page.eval_on_selector(".blind", "e => e.cx.baseVal.value")
    assert spot < 0  # temporal of the left eye lies to the left


def test_checks_try_things_out_without_a_display_and_say_what_to_do(seen, page):
    page.goto(f"{seen.address}/checks")
    page.fill("#distance_cm", "23")
    page.fill("#room_lux", "400")
    page.click("text='Enter'")
    assert "+15.0 %" in page.inner_text("#check-distance")
    assert "Dim the lamps" in page.inner_text("#check-light")
    page.click("form[action='/checks/try'] button")
    until(lambda: "bad" in page.inner_text("#check-screen .state"), "the probe's end")
    assert "DISPLAY" in page.inner_text("#check-screen")
    assert "GB free" in page.inner_text("#check-disk")
