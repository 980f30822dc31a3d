"""A certificate's page in a real browser: true to its file, whole, readable, alone."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import pytest
from page_checks import check_headings, check_pictures_have_words, contrast_ratio, overlap

from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from stimulus.certificate_page.page import write_certificate_page
from stimulus.cli import run

MEASURED = ("uneven", "slow-panel", "ten-bit")
EVERY = (*MEASURED, "bare", "real")
COVERAGE = 2.0  # JCGM 100:2008, 6.2: expanded uncertainty, coverage factor 2

WORDS_JS = """() => [...document.querySelectorAll('figure svg text')].map(t => {
  const r = t.getBoundingClientRect(), s = t.ownerSVGElement.getBoundingClientRect();
  return {words: t.textContent.trim(), picture: t.ownerSVGElement.getAttribute('aria-labelledby'),
          x0: r.left, x1: r.right, y0: r.top, y1: r.bottom,
          sx0: s.left, sx1: s.right, sy0: s.top, sy1: s.bottom}; })"""

COLOURS_JS = """() => {
  const ground = e => { for (; e; e = e.parentElement) {
    const c = getComputedStyle(e).backgroundColor;
    if (c !== 'rgba(0, 0, 0, 0)' && c !== 'transparent') return c; } return 'rgb(255, 255, 255)'; };
  const told = [...document.querySelectorAll('body *')].filter(e => !e.closest('svg') &&
    [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()));
  const html = told.map(e => [e.tagName + ' ' + e.textContent.trim().slice(0, 30),
                              getComputedStyle(e).color, ground(e)]);
  const name = n => getComputedStyle(document.documentElement).getPropertyValue('--' + n).trim();
  const svg = [...document.querySelectorAll('figure svg text')].flatMap(t =>
    (t.closest('.angles') ? ['mist', 'card'] : ['card']).map(b =>
      [t.textContent.trim(), getComputedStyle(t).fill, name(b)]));
  return [...html, ...svg]; }"""


def opened_up(page):
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    return page


def table(page, caption: str) -> list[list[str]]:
    return page.evaluate(
        """caption => [...[...document.querySelectorAll('details')].find(d =>
           d.querySelector('summary').firstChild.textContent.trim() === caption)
           .querySelectorAll('tbody tr')].map(r => [...r.cells].map(c => c.textContent))""",
        caption,
    )


def found_words(page) -> dict[str, str]:
    return dict(
        page.eval_on_selector_all(
            ".found div", "rows => rows.map(r => [...r.children].map(c => c.textContent))"
        )
    )


def says(text: str, quantity: dict[str, float], factor: float = 1.0) -> bool:
    """Whether the first "a ± b" of a text is this quantity with its expanded uncertainty.

    What is rounded away is at most half of the last digit that is written.
    """
    value, doubt = re.match(r"(-?[\d.]+) ± ([\d.]+)", text).groups()
    half = 0.5000001 * 10.0 ** -len(value.partition(".")[2])
    expanded = COVERAGE * (quantity["type_a"] ** 2 + quantity["type_b"] ** 2) ** 0.5
    return (
        abs(float(value) - factor * quantity["value"]) <= half
        and abs(float(doubt) - factor * expanded) <= half
    )


@pytest.mark.parametrize("name", MEASURED)
def test_the_sentences_agree_with_the_file(open_page, pages, certificates, name):
    file = json.loads(certificates[name].read_text())
    words = found_words(open_page(pages[name]))
    size, light, timing = file["geometry"], file["gamma"], file["timing"]
    assert says(words["geometry"], size["width_cm"])
    assert says(words["geometry"].split("seen from ")[1], size["distance_cm"])
    assert says(words["gamma"].split("mean ")[1], light["mean_cd_m2"])
    assert says(words["gamma"].split("peak ")[1], light["peak_cd_m2"])
    assert says(words["gamma"].split("black ")[1], light["black_cd_m2"])
    low, high = map(float, re.findall(r"([\d.]+) %", words["contrast range"])[:2])
    assert low == pytest.approx(100 * file["contrast_range"]["lowest_contrast"], abs=5e-4)
    assert high == pytest.approx(100 * file["contrast_range"]["greatest_contrast"], abs=5e-3)
    assert says(words["timing"], timing["refresh_hz"])
    assert f"of {timing['flips']} flips {timing['missed']} missed" in words["timing"]
    assert says(words["flicker"].split("rise ")[1], file["flicker"]["rise_s"], 1e3)
    assert says(words["flicker"].split("fall ")[1], file["flicker"]["fall_s"], 1e3)
    assert says(words["latency"].split("to light ")[1], file["latency"]["photon_s"], 1e3)
    worst = file["uniformity"]["contrast"]["worst_share"]
    assert f"contrast down to {worst:.3f}" in words["uniformity"]
    assert "not measured" not in words.values()
    for one in file["instruments"]:
        assert f"{one['kind']} {one['name']}, serial number {one['serial']}" in words["instruments"]


@pytest.mark.parametrize("name", MEASURED)
def test_the_tables_agree_with_the_file(open_page, pages, certificates, name):
    file = json.loads(certificates[name].read_text())
    page = open_page(pages[name])
    shown = [(channel, int(code), float(light)) for channel, code, light in table(page, "Readings")]
    kept = [(r["channel"], r["code"], r["cd_m2"]) for r in file["gamma"]["readings"]]
    for (channel, code, light), (kind, at, cd_m2) in zip(shown, sorted(kept), strict=True):
        assert (channel, code) == (kind, at)
        assert light == pytest.approx(cd_m2, rel=6e-4)
    counts = [int(row[2]) for row in table(page, "Frame intervals")]
    assert counts == [count for count in file["timing"]["histogram_counts"] if count]
    lines = file["flicker"]["delivered"]
    for row, line in zip(table(page, "Delivered contrast"), lines, strict=True):
        share = line["frame_hold"] * line["panel_response"]["value"]
        assert float(row[0].rstrip(" %")) == pytest.approx(100 * line["contrast"])
        assert float(row[4].rstrip(" %")) == pytest.approx(100 * line["contrast"] * share, rel=6e-3)
        assert says(row[3], line["panel_response"])
    same_grid(page, "Luminance over the screen, share of the middle", file["uniformity"]["shares"])
    contrast = file["uniformity"]["contrast"]
    same_grid(page, "Contrast over the screen, share of the middle", contrast["shares"])
    same_grid(page, "Full light over the screen, cd/m2", contrast["bright_cd_m2"])
    same_grid(page, "No light over the screen, cd/m2", contrast["dark_cd_m2"])
    assert len(table(page, "Warm-up")) == len(file["uniformity"]["warm_up_s"])
    assert [row[0] for row in table(page, "Fits of the channels")] == ["red", "green", "blue"]


def same_grid(page, caption: str, kept: list[list[float]]) -> None:
    rows = [[float(cell) for cell in row[1:]] for row in table(page, caption)]
    assert len(rows) == len(kept)
    for shown, wanted in zip(rows, kept, strict=True):
        assert shown == pytest.approx(wanted, rel=6e-4)


def test_numbers_in_the_pictures_are_those_of_the_file(open_page, pages, certificates):
    file = json.loads(certificates["uneven"].read_text())
    page = open_page(pages["uneven"])
    for kind, shares in (
        ("uniformity", file["uniformity"]["shares"]),
        ("contrast", file["uniformity"]["contrast"]["shares"]),
    ):
        shown = page.eval_on_selector_all(
            f".picture.{kind} svg text", "found => found.map(t => t.textContent.trim())"
        )
        assert sorted(shown) == sorted(f"{share:.3f}" for row in shares for share in row)
    shown = page.eval_on_selector_all(
        ".picture.range svg text", "found => found.map(t => t.textContent.trim())"
    )
    lowest = file["contrast_range"]["lowest_contrast"]
    assert f"{100 * lowest:.3f} %" in shown


def test_every_measurement_has_a_picture_and_no_other(open_page, pages):
    every = {
        "luminance", "range", "intervals", "response", "uniformity", "contrast", "warm-up",
        "angles",
    }  # fmt: skip
    wanted = {
        "uneven": every,
        "real": every - {"contrast", "warm-up"},
        "bare": {"intervals", "angles"},
    }
    for name, kinds in wanted.items():
        shown = open_page(pages[name]).eval_on_selector_all(
            "figure", "found => found.map(f => f.className.replace('picture ', ''))"
        )
        assert sorted(shown) == sorted(kinds), name


def test_what_was_not_measured_is_said_first(open_page, pages):
    page = open_page(pages["bare"])
    lacking = "gamma, contrast range, flicker, latency, uniformity, flash"
    assert f"Not measured: {lacking}." in page.inner_text(".warnings")
    words = found_words(page)
    assert [part for part, text in words.items() if text == "not measured"] == lacking.split(", ")
    assert words["instruments"] == "none but the eye and the clock"


def test_simulated_is_said_plainly_and_only_where_it_is(open_page, pages):
    for name in (*MEASURED, "bare"):
        assert "Simulated display: no light was measured." in open_page(pages[name]).inner_text(
            ".warnings"
        )
    assert "Simulated display" not in open_page(pages["real"]).inner_text("body")


def test_notes_stand_beside_what_to_read_first(open_page, pages, certificates):
    notes = json.loads(certificates["slow-panel"].read_text())["flicker"]["notes"]
    assert notes
    for note in notes:
        assert note in open_page(pages["slow-panel"]).inner_text(".warnings")


def test_a_name_is_shown_as_it_is_and_not_as_markup(open_page, pages):
    page = open_page(pages["real"])
    assert page.inner_text("h2") == "DisplayPort-1, a long name <b>with marks</b> & signs"
    assert page.locator("h2 b").count() == 0


def test_it_can_be_signed_and_checked(open_page, pages, certificates):
    file = json.loads(certificates["uneven"].read_text())
    text = open_page(pages["uneven"]).inner_text("body")
    for fact in (file["sha256"], file["made_utc"], file["lapses_utc"], file["command"]):
        assert fact in text
    assert "measured by" in text
    assert "coverage factor 2 (JCGM 100:2008)" in text


@pytest.mark.parametrize("media", ["screen", "print"])
def test_research_use_is_said_at_both_ends_on_the_screen_and_on_paper(open_page, pages, media):
    for name in EVERY:
        page = open_page(pages[name])
        page.emulate_media(media=media)
        assert page.inner_text("body").count(RESEARCH_ONLY) == 2
        assert "diagnos" not in page.inner_text("body").replace(RESEARCH_ONLY, "").lower()


def test_it_prints_on_two_sheets_as_a_certificate(open_page, pages, tmp_path):
    page = open_page(pages["uneven"])
    for paper in ("A4", "Letter"):
        assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper))) == 2
    page.emulate_media(media="print")
    before = page.evaluate("getComputedStyle(document.querySelector('h2'), '::before').content")
    assert before == '"Ripplefield certificate "'


def test_the_same_certificate_gives_the_same_bytes_elsewhere(pages, certificates, tmp_path):
    again = (
        "import sys, pathlib\n"
        "from stimulus.certificate_page.page import write_certificate_page as w\n"
        "w(*map(pathlib.Path, sys.argv[1:]))"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "12345", "TZ": "Asia/Tokyo"}
    subprocess.run(
        [sys.executable, "-c", again, str(certificates["uneven"]), str(tmp_path / "a.html")],
        check=True,
        env=environment,
    )
    assert (tmp_path / "a.html").read_bytes() == pages["uneven"].read_bytes()


def test_nothing_is_loaded_from_outside_and_no_script_runs(browser, pages):
    for name in EVERY:
        page = browser.new_page()
        asked, errors = [], []
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.on("console", lambda message, errors=errors: errors.append(message.text))
        page.goto(pages[name].as_uri(), wait_until="networkidle")
        page.close()
        text = pages[name].read_text()
        assert asked == [pages[name].as_uri()]
        assert errors == []
        assert "<script" not in text
        assert "@import" not in text
        links = re.findall(r"""(?:src|href)=["']([^"']+)|url\(["']?([^"')]+)""", text)
        assert {(a or b)[0] for a, b in links} == {"#"}


@pytest.mark.parametrize("width", [320, 640, 1280, 1920])
def test_no_sideways_scroll(open_page, pages, width):
    """320 px is WCAG 2.2, 1.4.10; 640 px is what 1280 px leave at 200 % zoom (1.4.4)."""
    for name in EVERY:
        page = opened_up(open_page(pages[name], width))
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        cut = page.evaluate(
            "[...document.querySelectorAll('h2, p, li, dd, summary, figure')]"
            ".filter(e => !e.closest('.scroll') && e.getBoundingClientRect().right > innerWidth)"
            ".map(e => e.textContent)"
        )
        assert cut == []


@pytest.mark.parametrize("width", [320, 1280])
def test_words_in_pictures_stay_readable(open_page, pages, width):
    """At least 7.5 px for the smallest, where a page is narrowest too; our own rule."""
    for name in EVERY:
        heights = open_page(pages[name], width).evaluate(
            "[...document.querySelectorAll('figure svg text')].map(t => "
            "parseFloat(getComputedStyle(t).fontSize) * t.ownerSVGElement.getScreenCTM().a)"
        )
        assert len(heights) > 15
        assert min(heights) >= 7.5, name


def test_no_word_touches_another_or_leaves_its_picture(open_page, pages):
    """Boxes are trimmed to the ink of digits and capitals: 0.2 of the line above and below."""
    for name in EVERY:
        words = open_page(pages[name]).evaluate(WORDS_JS)
        assert len(words) > 15
        for word in words:
            trim = 0.2 * min(word["y1"] - word["y0"], word["x1"] - word["x0"])
            word["y0"], word["y1"] = word["y0"] + trim, word["y1"] - trim
            assert word["sx0"] - 1 <= word["x0"] <= word["x1"] <= word["sx1"] + 1, word
            assert word["sy0"] - 1 <= word["y0"] <= word["y1"] <= word["sy1"] + 1, word
        clashes = [
            (a["words"], b["words"], a["picture"])
            for a, b in combinations(words, 2)
            if a["picture"] == b["picture"] and overlap(a, b)
        ]
        assert clashes == [], name


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_contrast_is_at_least_four_and_a_half_to_one(open_page, pages, scheme):
    """WCAG 2.2, 1.4.3, for words on the page and in the pictures."""
    for name in ("uneven", "bare"):
        told = opened_up(open_page(pages[name], scheme=scheme)).evaluate(COLOURS_JS)
        assert len(told) > 100
        assert [(what, a, b) for what, a, b in told if contrast_ratio(a, b) < 4.5] == []


def test_headings_are_in_order_and_pictures_have_words(open_page, pages):
    page = open_page(pages["uneven"])
    check_headings(page, seconds=1)
    check_pictures_have_words(page, 8)


def test_the_tables_open_from_the_keyboard(open_page, pages):
    page = open_page(pages["uneven"])
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('role')") == "region"


def test_the_command_writes_it_beside_the_certificate_or_where_it_is_told(
    certificates, tmp_path, capsys
):
    path = tmp_path / "screen.json"
    path.write_bytes(certificates["bare"].read_bytes())
    assert run(["report", str(path)]) == 0
    assert capsys.readouterr().out == f"page: {tmp_path}/screen.html\n"
    assert run(["report", str(path), "--out", str(tmp_path / "other.html")]) == 0
    pages = [tmp_path / "screen.html", tmp_path / "other.html"]
    assert pages[0].read_bytes() == pages[1].read_bytes()


def test_another_suffix_is_refused_and_nothing_is_written(certificates, tmp_path):
    for name in ("page.pdf", "page", "page.txt"):
        with pytest.raises(InputError, match=r"--out.*a name that ends in \.html"):
            write_certificate_page(certificates["bare"], tmp_path / name)
    with pytest.raises(InputError, match="folder that exists"):
        write_certificate_page(certificates["bare"], tmp_path / "nowhere" / "page.html")
    assert list(Path(tmp_path).iterdir()) == []
