"""The page of a pilot in a real browser: words, pictures, tables, dark, narrow, print."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from page_checks import check_headings, check_pictures_have_words, contrast_ratio

from analysis.piloting.words import tags
from protocols import RESEARCH_ONLY

PARTS = [
    "Cost against accuracy", "What an exam costs", "Error by depth and shape of loss",
    "Error by place", "Spread of repeats", "Telling loss from none", "Lapses and false presses",
    "People the lab's study takes", "Methods, to be adapted", "The same again",
]  # fmt: skip


@pytest.fixture(scope="module")
def result(pilot: Path) -> dict:
    return json.loads((pilot / "pilot.json").read_text())


def test_headings_notices_and_parts(pilot, open_page, result) -> None:
    page = open_page(pilot / "report.html")
    check_headings(page, 1)
    assert page.locator("h3").all_inner_texts() == PARTS
    assert page.locator(".research").all_inner_texts() == [RESEARCH_ONLY] * 2
    warnings = page.locator(".warnings li").all_inner_texts()
    assert warnings == [result["simulated"], result["origin"]["reference_notice"]]
    check_pictures_have_words(page, 2 + 1 + 4 * len(result["variants"]))


def test_the_conclusions_are_the_results(pilot, open_page, result) -> None:
    page = open_page(pilot / "report.html")
    text = page.locator("section:has(#conclusions)").inner_text()
    names = tags(list(result["objectives"]))
    for one in result["dominated"]:
        assert f"{names[one['variant']]} is dominated by" in text
    for label, found in result["objectives"].items():
        row = page.locator("#conclusions-objectives tr", has_text=label).first.inner_text()
        assert f"{found['seconds']['value']:.1f} (" in row
        assert f"{found['rms_db']['value']:.2f} (" in row
    assert "recommended" in text


def test_methods_and_commands_are_complete(pilot, open_page, result) -> None:
    page = open_page(pilot / "report.html")
    methods = page.locator("section:has(#method)").inner_text()
    for said in ("120 people", "screen-19", "All of it is invented", "Bonferroni", "5 %"):
        assert said in methods
    again = page.locator("section:has(#again)").inner_text()
    for said in (*result["origin"]["commands"], result["origin"]["plan_sha256"], "Seed 5"):
        assert said in again


def test_nothing_comes_from_outside_and_nothing_runs(pilot) -> None:
    text = (pilot / "report.html").read_text()
    assert "<script" not in text
    links = re.findall(r'(?:src|href)="([^"]*)"', text)
    assert all(link.startswith("#") for link in links)
    assert not re.findall(r"url\((?!#)", text)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 1280])
def test_it_fits_and_can_be_read(pilot, open_page, width, scheme) -> None:
    page = open_page(pilot / "report.html", width, scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for selector in (".sentence", ".note", "td", ".warnings li", "svg text"):
        found = page.locator(selector).first.evaluate(
            "e => [getComputedStyle(e).fill !== 'rgb(0, 0, 0)' && e.closest('svg') ?"
            " getComputedStyle(e).fill : getComputedStyle(e).color,"
            " getComputedStyle(document.querySelector('.leaf')).backgroundColor]"
        )
        assert contrast_ratio(*found) >= 4.5, (selector, found)


def test_names_of_points_stay_inside_and_apart(pilot, open_page, result) -> None:
    page = open_page(pilot / "report.html")
    for kind in ("pareto-error", "pareto-detection"):
        boxes = page.locator(f"figure.{kind} svg").evaluate(
            """(svg, names) => [...svg.querySelectorAll('text')]
            .filter(t => names.includes(t.textContent)).map(t => {
            const b = t.getBoundingClientRect(), s = svg.getBoundingClientRect();
            return [b.left - s.left, b.right - s.left, b.top, b.bottom, s.width];})""",
            list(tags(list(result["objectives"])).values()),
        )
        assert len(boxes) == len(result["objectives"])
        for number, (left, right, top, bottom, width) in enumerate(boxes):
            assert left >= -1
            assert right <= width + 1
            for other in boxes[number + 1 :]:
                across = min(right, other[1]) - max(left, other[0])
                assert across < 1 or min(bottom, other[3]) - max(top, other[2]) < 4


def test_printed_parts_do_not_run_into_each_other(pilot, open_page) -> None:
    page = open_page(pilot / "report.html", 800)
    page.emulate_media(media="print")
    boxes = page.locator("figure.picture, details").evaluate_all(
        "found => found.map(e => {const b = e.getBoundingClientRect();"
        " return [b.left, b.right, b.top, b.bottom]})"
    )
    for number, (left, right, top, bottom) in enumerate(boxes):
        for other in boxes[number + 1 :]:
            across = min(right, other[1]) - max(left, other[0])
            down = min(bottom, other[3]) - max(top, other[2])
            assert not (across > 1 and down > 1), (number, other)
