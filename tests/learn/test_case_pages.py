"""The pages in a real browser: a case is run, read and marked; readable for all; nobody gets in.

Outside truth: axe-core's rules for WCAG 2.2, run on each page as a browser shows it.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest
from case_rigs import bundled, ideal_acts
from jsonschema import Draft202012Validator

from analysis.cases.operating import outcome
from analysis.cases.questions import Choice, next_step
from analysis.cases.readers import ideal_answers
from analysis.cases.record import INVENTED, record_schema
from protocols import RESEARCH_ONLY

PROGRAM = Path(sys.executable).with_name("ripplefield")
PATIENCE_S = 60.0


class Served:
    """`ripplefield learn` as a program of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.log = folder, folder / "log.txt"
        with open(self.log, "wb") as output:
            self.program = subprocess.Popen(
                [str(PROGRAM), "learn", "--out", str(folder / "lesson"), "--student", "S-04"],
                stdout=output, stderr=output,
                env={k: v for k, v in os.environ.items() if k != "DISPLAY"},
            )  # fmt: skip
        end_s = time.monotonic() + PATIENCE_S
        while not self.links and time.monotonic() < end_s and self.program.poll() is None:
            time.sleep(0.02)
        assert self.links, self.log.read_text()

    @property
    def links(self) -> list[str]:
        return re.findall(r"http\S+/open\?token=\S+", self.log.read_text())

    @property
    def address(self) -> str:
        return self.links[0].split("/open")[0]

    def record(self, case: str, role: str) -> dict:
        return json.loads((self.folder / "lesson" / case / f"{role}.json").read_text())


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    found = Served(tmp_path_factory.mktemp("learn"))
    yield found
    found.program.terminate()
    found.program.wait(timeout=15)


@pytest.fixture(scope="module")
def page(served, browser):
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    opened.problems = []
    opened.on("pageerror", lambda error: opened.problems.append(str(error)))
    opened.on("request", lambda request: opened.problems.append(request.url)
              if not request.url.startswith(served.address) else None)  # fmt: skip
    opened.goto(served.links[-1])
    yield opened
    assert opened.problems == []
    opened.close()


@pytest.fixture(autouse=True)
def as_usual(page):
    page.set_viewport_size({"width": 1280, "height": 900})
    page.emulate_media(color_scheme="light")


def test_the_list_gives_nothing_away(served, page):
    page.goto(f"{served.address}/")
    text = page.inner_text("body")
    for verb in ("Run the exam", "Read the result"):
        links = page.get_by_role("link", name=verb).count()
        assert links + page.locator(".done-link").count() == 30
    assert INVENTED in text
    for word in ("arc", "trigger", "wander", "bright", "tilt", "patches"):
        assert not re.search(rf"\b{word}", text.lower())


def test_an_operator_runs_a_case_to_full_marks(served, page):
    room = bundled("case-11")
    acts = ideal_acts(room)
    page.goto(f"{served.address}/operate/case-11")
    light = page.locator("li", has_text="Light in the room")
    light.get_by_role("button", name="Look").click()
    assert "8000 lux on the screen" in page.inner_text("body")
    light = page.locator("li", has_text="Light in the room")
    light.get_by_role("button", name="Put right").click()
    assert "you put it right" in page.inner_text("body")
    for _ in room.truth.eyes:
        page.get_by_role("button", name="To the end of the eye").click()
    assert "Finished: that was all." in page.inner_text("body")
    page.locator("svg[data-field] .done-place >> nth=18").wait_for(state="attached")
    assert page.locator("svg[data-field] .done-place").count() == 19
    step = next_step(outcome(room.truth, room.play(acts)))
    page.locator(f"input[name=step][value={step}]").check()
    page.get_by_role("button", name="End and show the marks").click()
    assert page.inner_text("h2 >> nth=0") == "10 of 10"
    record = served.record("case-11", "operator")
    Draft202012Validator(record_schema()).validate(record)
    assert [act["do"] for act in record["acts"]] == ["check", "mend", "run", "run"]
    assert (record["score"]["points"], record["student"]) == (10.0, "S-04")


def test_what_is_said_is_heard(served, page):
    page.goto(f"{served.address}/operate/case-09")
    page.get_by_role("button", name="Next 15").click()
    page.get_by_role("button", name="Press only when you notice").click()
    page.get_by_role("button", name="Rest a minute").click()
    page.get_by_role("button", name="Begin anew").click()
    assert "Exam 2" in page.inner_text("body")
    assert "Waiting for the participant" in page.inner_text("body")
    page.get_by_role("button", name="Stop").click()
    assert page.get_by_role("button", name="Next 5").is_disabled()


def fill(page, questions, answers) -> None:
    for question in questions:
        answer = answers[question.key]
        if isinstance(question, Choice):
            page.locator(f"input[name={question.key}][value='{answer}']").check()
        elif isinstance(answer, str):
            page.locator(f"input[name={question.key}-{answer}]").check()
        else:
            for number in answer:
                page.locator(f"input[name={question.key}-{number}]").check()


@pytest.mark.parametrize("case", ["case-10", "case-21"])
def test_a_reader_reads_a_case_to_full_marks(served, page, case):
    questions = bundled(case).questions
    page.goto(f"{served.address}/results/{case}")
    visits = page.locator("article.exam").count()
    assert visits == (2 if case == "case-21" else 1)
    assert page.locator("article.exam figure svg").count() == 8 * visits
    fill(page, questions, ideal_answers(questions))
    page.get_by_role("button", name="Answer and show the marks").click()
    full = sum(question.points for question in questions)
    assert page.inner_text("h2 >> nth=0") == f"{full} of {full}"
    assert page.locator(".marks li.full").count() == len(questions)
    page.locator("svg[data-field] .done-place >> nth=37").wait_for(state="attached")
    assert "Guessing earns" in page.inner_text("body")
    assert served.record(case, "reader")["score"]["points"] == full
    page.goto(f"{served.address}/")
    assert f"Reader: {full} of {full}" in page.inner_text("body")


def test_what_contradicts_itself_is_said_and_kept(served, page):
    questions = bundled("case-01").questions
    page.goto(f"{served.address}/results/case-01")
    fill(page, questions, ideal_answers(questions))
    page.locator("input[name=places_right-3]").check()
    page.locator("input[name=places_right-cannot]").check()
    page.get_by_role("button", name="Answer and show the marks").click()
    assert (
        'places_right: got "places, and that it cannot be told"; allowed: one of the two. '
        "Untick the places or the last box."
    ) in page.inner_text("[role=alert]")
    assert page.locator("input[name=places_right-3]").is_checked()
    assert page.locator("input[name=trust][value=fine]").is_checked()
    page.locator("input[name=places_right-cannot]").uncheck()
    page.get_by_role("button", name="Answer and show the marks").click()
    assert page.locator(".marks li.part").count() == 1
    page.get_by_role("button", name="Begin this case anew").click()
    assert page.locator("input[name=trust]:checked").count() == 0


PAGES = ("", "operate/case-09", "results/case-22", "score/case-21/reader", "score/case-11/operator",
         "results/nobody")  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_every_page_is_for_all(served, page, path):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        page.goto(f"{served.address}/{path}")
        assert page.inner_text("header").count(RESEARCH_ONLY) == 1
        found = axe.Axe().run(page).response["violations"]
        serious = [f"{one['id']}: {[n['html'][:120] for n in one['nodes']][:3]}" for one in found
                   if one["impact"] in ("serious", "critical", "moderate")]  # fmt: skip
        assert not serious, "\n".join(serious)
    for width in (320, 1920):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_nobody_gets_in_without_the_link(served, page):
    with httpx.Client(base_url=served.address) as stranger:
        for path in PAGES:
            assert stranger.get(f"/{path}").status_code == 403
        assert stranger.get("/open", params={"token": "x"}).status_code == 403
        assert stranger.post("/operate/case-01/act", data={"do": "run"}).status_code == 403
        used = stranger.get(served.links[0])
        assert used.status_code == 403
    with httpx.Client(base_url=served.address, headers={"origin": served.address}) as client:
        assert client.get(served.links[-1]).status_code == 303
        away = {"origin": "http://elsewhere.example"}
        assert client.post("/operate/case-01/act", headers=away).status_code == 403
        assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 421
        policy = client.get("/").headers["content-security-policy"]
        assert "default-src 'none'" in policy
        sent = client.post("/operate/case-01/act", data={"do": "fly"})
        assert sent.headers["location"] == "/operate/case-01"
        assert 'act: got &#34;fly&#34;' in client.get("/operate/case-01").text
        assert client.get("/score/case-01/operator").status_code == 404
        assert client.get("/score/case-01/teacher").status_code == 404
        assert client.get("/operate/..%2f..%2fetc").status_code == 404
        assert client.post("/operate/nobody/act", data={"do": "run"}).headers["location"] == "/"


def test_what_was_shown_to_one_eye_is_not_ringed_in_the_field_of_the_other(page, served):
    page.goto(f"{served.address}/operate/case-12")
    page.get_by_role("button", name="Next 5").click()
    page.locator(".shown-ring").wait_for(state="attached")
    page.get_by_role("button", name="To the end of the eye").click()
    page.locator("svg[data-field] .side-word >> nth=0").wait_for(state="attached")
    assert "Rest. The left eye comes next." in page.inner_text("body")
    assert page.locator(".shown-ring").count() == 0
