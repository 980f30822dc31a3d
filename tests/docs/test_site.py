"""The site is built without a warning, loads nothing from outside, and fits a small screen."""

from __future__ import annotations

import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from page_blocks import ROOT

ADDRESS = re.compile(r"^(?:[a-z]+:)?//", re.IGNORECASE)
LOADS = {
    "script": "src", "img": "src", "iframe": "src", "source": "src", "link": "href", "use": "href",
    "image": "href", "object": "data", "embed": "src", "video": "src", "audio": "src",
}  # fmt: skip
SEEN = ["index.html", "learn/predictive.html", "validation.html", "reference/made/commands.html"]


class Reader(HTMLParser):
    """What a page loads, where it points to, and its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.links: list[str] = []
        self.ids: set[str] = set()
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if given.get(LOADS.get(tag, "")):
            self.loads.append(given[LOADS[tag]] or "")
        if tag == "a" and given.get("href"):
            self.links.append(given["href"] or "")
        if given.get("id"):
            self.ids.add(given["id"] or "")

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.fixture(scope="module")
def pages(site):
    """Every page of the site, read."""
    return {path: Reader(path.read_text()) for path in sorted(site.rglob("*.html"))}


def test_every_part_is_there(site):
    for name in (
        "index", "validation", "tutorials/operator", "tutorials/lab", "tutorials/student",
        "tutorials/engineer", "howto/procedure", "howto/button", "howto/photometer",
        "howto/pattern", "howto/day", "howto/reference", "howto/export", "learn/predictive",
        "explain/physics", "explain/statistics", "explain/safety", "explain/limits",
        "reference/made/commands", "reference/made/columns", "reference/made/formats/journal-1",
        "reference/made/api/protocols.procedures",
    ):  # fmt: skip
        assert (site / f"{name}.html").exists(), name


def test_nothing_is_loaded_from_outside(pages, site):
    """No script, style, font, picture or frame comes from another host, in pages or styles."""
    outside = [
        (page.name, load) for page, read in pages.items() for load in read.loads
        if ADDRESS.match(load)
    ]  # fmt: skip
    assert outside == []
    sheets = list(site.rglob("*.css"))
    assert len(sheets) >= 3
    for sheet in sheets:
        found = re.findall(r"url\(\s*['\"]?([^'\")]+)|@import\s+['\"]([^'\"]+)", sheet.read_text())
        assert [a or b for a, b in found if ADDRESS.match(a or b)] == [], sheet
    for script in site.rglob("*.js"):
        text = script.read_text()
        assert not re.search(r"(?:fetch|import|importScripts)\(\s*['\"]https?:", text), script
        assert not re.search(r"\.src\s*=\s*['\"]https?:", text), script


def test_the_browser_asks_no_other_host(site, browser):
    """Second route: what a real browser asks for while it shows the pages."""
    page, asked = browser.new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    for name in SEEN:
        page.goto((site / name).as_uri())
        page.wait_for_load_state("load")
    page.close()
    assert len(asked) > len(SEEN)
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []


def test_links_within_the_site_lead_somewhere(pages):
    for page, read in pages.items():
        for link in read.links:
            if ADDRESS.match(link) or ":" in link.split("/")[0]:
                continue
            name, _, anchor = link.partition("#")
            target = (page.parent / name).resolve() if name else page
            assert target.exists(), f"{page}: {link}"
            if anchor and target in pages:
                assert anchor in pages[target].ids, f"{page}: {link}"


def test_commands_formats_kinds_and_columns_are_the_programs_own(pages, site):
    from protocols.events import KINDS
    from protocols.simulate.results import COLUMNS
    from stimulus.cli import COMMANDS

    def words(name: str) -> str:
        return "".join(pages[site / "reference" / "made" / f"{name}.html"].words)

    for name in COMMANDS:
        assert f"ripplefield {name}" in words("commands")
    for kind in KINDS:
        assert kind in words("formats/journal-1")
    for column in COLUMNS:
        assert column in words("columns")


def test_every_schema_that_ships_has_its_page(site):
    names = {path.stem for path in (ROOT / "stimulus" / "schemas").glob("*.json")}
    assert names == {p.stem for p in (site / "reference" / "made" / "formats").glob("*.html")}


def test_every_public_function_is_on_a_page(pages, site):
    from docstring_rules import public

    text = "".join(
        "".join(read.words) for page, read in pages.items() if page.parent.name == "api"
    )
    missing = [spot.where for spot in public() if spot.name not in text]
    assert missing == []


def test_it_says_what_it_is_not_for(pages, site):
    for name in ("index", "validation", "explain/safety", "explain/limits", "learn/index"):
        words = "".join(pages[site / f"{name}.html"].words)
        assert "diagnosis" in words, name


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", SEEN)
def test_nothing_sticks_out_of_a_small_screen(site, open_page, name, scheme):
    page = open_page(site / name, width=320, scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["index.html", "learn/field.html", "howto/pattern.html"])
def test_axe_finds_nothing_wrong(site, open_page, name, scheme):
    """Outside truth: axe-core's rules for WCAG 2.2, on a page as a browser shows it."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")
    found = axe.Axe().run(open_page(site / name, scheme=scheme)).response["violations"]
    told = [
        (v["id"], v["help"], [node["html"][:120] for node in v["nodes"][:4]]) for v in found
    ]
    assert told == []
