"""The page in a real browser, and its PDF: true, whole, readable, on one sheet, alone."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from itertools import combinations

import msgspec
import pytest
from page_checks import check_headings, check_pictures_have_words, contrast_ratio, overlap
from page_exams import make_exam

from analysis.report.page import report_page, write_report
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from protocols.observer import ObserverFile

MINUS = "\u2212"
DIAGNOSES = (
    "abnormal", "normal", "healthy", "defect", "disease", "patholog", "glaucoma", "blindness",
    "patient", "suspect",
)  # fmt: skip

WORDS_JS = """() => [...document.querySelectorAll('figure svg text')].map(t => {
  const r = t.getBoundingClientRect(), s = t.ownerSVGElement.getBoundingClientRect();
  return {words: t.textContent.trim(), picture: t.ownerSVGElement.getAttribute('aria-labelledby'),
          id: t.parentElement.id, x0: r.left, x1: r.right, y0: r.top, y1: r.bottom,
          sx0: s.left, sx1: s.right, sy0: s.top, sy1: s.bottom}; })"""

DISCS_JS = """() => [...document.querySelectorAll('.field g[id*="-disc-"]')].map(g => {
  const r = g.querySelector('path').getBoundingClientRect();
  return {id: g.id, x: (r.left + r.right) / 2, y: (r.top + r.bottom) / 2, r: r.width / 2}; })"""

COLOURS_JS = """() => {
  const ground = e => { for (; e; e = e.parentElement) {
    const c = getComputedStyle(e).backgroundColor;
    if (c !== 'rgba(0, 0, 0, 0)' && c !== 'transparent') return c; } return 'rgb(255, 255, 255)'; };
  const told = [...document.querySelectorAll('body *')].filter(e => !e.closest('svg') &&
    [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()));
  const html = told.map(e => [e.tagName + ' ' + e.textContent.trim().slice(0, 30),
                              getComputedStyle(e).color, ground(e)]);
  const paint = e => getComputedStyle(e).fill;
  const name = n => getComputedStyle(document.documentElement).getPropertyValue('--' + n).trim();
  const svg = [...document.querySelectorAll('figure svg text')].flatMap(t => {
    const id = t.parentElement.id, disc = id.includes('-number-')
      ? document.getElementById(id.replace('-number-', '-disc-')).querySelector('path') : null;
    const behind = disc ? [paint(disc)] : id.includes('field') ? [name('mist'), name('card')]
      : [name('card')];
    return behind.map(b => [id + ' ' + t.textContent.trim(), paint(t), b]); });
  return [...html, ...svg]; }"""

SHEET_JS = """() => [...document.querySelectorAll(
    '.who, .said, .picture, .key, .facts, footer')].map(e => {
  const r = e.getBoundingClientRect();
  return [e.className || e.tagName, r.left, r.right, r.top, r.bottom]; })"""


def _number(text):
    return float(text.replace(MINUS, "-"))


def _rounds_to(text, value):
    return abs(_number(text) - value) <= 0.05 + 1e-9


def test_the_tables_agree_with_result_json(open_page, pages, exams):
    for name, path in pages.items():
        result = json.loads((exams[name] / "result.json").read_text())
        page = open_page(path)
        for eye, found in result["eyes"].items():
            assert found["sentence"] in _texts(page, ".sentence")
            if not found["presentations"]:
                continue
            rows = _rows(page, f"#exam-1-{eye}-places")
            assert len(rows) == len(found["places"])
            for row in rows:
                _check_place(row, found["places"][int(row[0])])
            _check_rates(_rows(page, f"#exam-1-{eye}-catch"), found["reliability"])
        page.close()


def _texts(page, selector):
    return page.eval_on_selector_all(selector, "found => found.map(e => e.textContent)")


def _rows(page, table):
    return page.eval_on_selector_all(
        f"{table} tbody tr", "rows => rows.map(r => [...r.cells].map(c => c.textContent))"
    )


def _check_place(row, place):
    low, high = row[5].split(" to ")
    assert _rounds_to(row[1], place["x_deg"])
    assert _rounds_to(row[2], place["y_deg"])
    assert _rounds_to(low, place["interval_db"][0])
    assert _rounds_to(high, place["interval_db"][1])
    assert _rounds_to(row[6], place["limit_db"])
    assert int(row[9]) == place["tries"]
    if place["estimate_db"] is None:
        assert row[3] == row[4] == row[7] == row[8] == row[10] == row[11] == "\u2013"
        assert row[12] == "not finished"
        return
    assert _rounds_to(row[4], place["estimate_db"])
    assert _rounds_to(row[7], place["estimate_db"] - place["limit_db"])
    assert _rounds_to(row[8].lstrip(">"), place["below_limit_db"])
    if place["grade"] is None:
        assert row[10] == row[11] == "\u2013"
        assert row[12] == "no grade is more likely than not"
    else:
        assert int(row[10]) == place["grade"]
        assert abs(float(row[11]) - place["grade_probability"]) <= 0.005 + 1e-9
    assert row[3].startswith("<") == (place["bound"] == "at most")
    assert row[3].startswith("≥") == (place["bound"] == "at least")
    assert row[3].endswith("?") == (not place["grade_trusted"])


def _check_rates(rows, reliability):
    for row, key in zip(rows, ("fixation", "false_positive", "false_negative"), strict=False):
        rate = reliability[key]
        assert (int(row[1]), int(row[2])) == (rate["shown"], rate["wrong"])
        if rate["shown"]:
            low, high = re.search(r"(\d+)–(\d+) %", row[4]).groups()
            assert abs(float(low) - 100 * rate["interval"][0]) <= 0.5
            assert abs(float(high) - 100 * rate["interval"][1]) <= 0.5
    stray = [int(row[2]) for row in rows[3:]]
    assert stray == [reliability[k] for k in ("anticipations", "late_answers", "extra_presses")]


def test_the_page_says_what_makes_its_numbers(pages, exams):
    result = json.loads((exams["arc"] / "result.json").read_text())
    page = pages["arc"].read_text()
    facts = (
        result["journal_sha256"], result["exam"]["participant"], result["reference"]["notice"],
        result["reference"]["name"], result["display"]["words"], "Uncalibrated display",
        f"{result['exam']['age_years']} years", "15 January 2030", "Simulated participant",
        result["safety"]["override_reason"], result["versions"]["scipy"],
        f"{result['safety']['over_wcag']} of {result['timing']['presentations']} presentations",
        result["unit_note"],
    )  # fmt: skip
    assert [fact for fact in facts if fact not in page] == []
    assert re.search(r"Seed</dt>\s*<dd>3<", page)


def test_unfinished_and_skipped_exams_say_so(pages):
    assert "Not finished: tired." in pages["stopped"].read_text()
    assert "Nothing was shown to this eye" in pages["stopped"].read_text()
    assert "the operator skipped it" in pages["skipped"].read_text()
    assert "Not finished" not in pages["arc"].read_text()


def test_research_use_is_said_and_no_diagnosis_is_made(pages):
    for path in pages.values():
        text = re.sub(r"<style>.*?</style>|<[^>]+>", " ", path.read_text(), flags=re.S)
        assert text.count(RESEARCH_ONLY) == 2
        rest = text.replace(RESEARCH_ONLY, "").lower()
        assert "diagnos" not in rest
        assert [word for word in DIAGNOSES if word in rest] == []


def test_the_same_exams_give_the_same_bytes_in_another_process(exams, tmp_path):
    folders = [exams["one-eye"]]
    again = (
        "import sys, pathlib; from analysis.report.page import write_report; "
        "out = pathlib.Path(sys.argv[1]); f = [pathlib.Path(a) for a in sys.argv[2:]]; "
        "write_report(f, out / 'again.html'); write_report(f, out / 'again.pdf')"
    )
    subprocess.run(
        [sys.executable, "-c", again, str(tmp_path), *map(str, folders)],
        check=True, env=_other_hash_seed(),
    )  # fmt: skip
    for suffix in (".html", ".pdf"):
        here = write_report(folders, tmp_path / f"here{suffix}")
        assert _sha(here) == _sha(tmp_path / f"again{suffix}")


def _other_hash_seed():
    return {**os.environ, "PYTHONHASHSEED": "12345", "TZ": "Asia/Tokyo"}


def _sha(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_nothing_is_loaded_from_outside_and_no_script_runs(browser, pages):
    page = browser.new_page()
    asked, errors = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: errors.append(message.text))
    page.goto(pages["arc"].as_uri(), wait_until="networkidle")
    page.close()
    text = pages["arc"].read_text()
    assert asked == [pages["arc"].as_uri()]
    assert errors == []
    assert "<script" not in text
    assert "@import" not in text
    links = re.findall(r"""(?:src|href)=["']([^"']+)|url\(["']?([^"')]+)""", text)
    assert {(a or b)[0] for a, b in links} == {"#"}


def test_no_word_touches_another_or_leaves_its_picture(open_page, pages):
    """Boxes are trimmed to the ink of digits and capitals: 0.2 of the line above and below."""
    for path in pages.values():
        page = open_page(path)
        words = page.evaluate(WORDS_JS)
        discs = {disc["id"]: disc for disc in page.evaluate(DISCS_JS)}
        assert len(words) > 50
        for word in words:
            trim = 0.2 * (word["y1"] - word["y0"])
            word["y0"], word["y1"] = word["y0"] + trim, word["y1"] - trim
            assert word["sx0"] - 1 <= word["x0"] <= word["x1"] <= word["sx1"] + 1, word
            assert word["sy0"] - 1 <= word["y0"] <= word["y1"] <= word["sy1"] + 1, word
        clashes = [
            (a["words"], b["words"], a["picture"])
            for a, b in combinations(words, 2)
            if a["picture"] == b["picture"] and overlap(a, b)
        ]
        assert clashes == []
        assert [w["id"] for w in words if "-level-" in w["id"] and _on_a_disc(w, discs)] == []
        page.close()


def _on_a_disc(word, discs):
    base = word["id"].rsplit("-level-", 1)[0]
    for disc in discs.values():
        if not disc["id"].startswith(f"{base}-disc-"):
            continue
        dx = max(word["x0"] - disc["x"], 0, disc["x"] - word["x1"])
        dy = max(word["y0"] - disc["y"], 0, disc["y"] - word["y1"])
        if dx * dx + dy * dy < (disc["r"] - 0.3) ** 2:
            return True
    return False


@pytest.mark.parametrize("width", [320, 640, 1280, 1920])
def test_no_sideways_scroll(open_page, pages, width):
    """320 px is WCAG 2.2, 1.4.10; 640 px is what 1280 px leave at 200 % zoom (1.4.4)."""
    for name in ("tired", "stopped"):
        page = open_page(pages[name], width)
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        cut = page.evaluate(
            "[...document.querySelectorAll('h2, p, li, dd, summary, figure')]"
            ".filter(e => !e.closest('.scroll') && e.getBoundingClientRect().right > innerWidth)"
            ".map(e => e.textContent)"
        )
        assert cut == []
        page.close()


def test_numbers_stay_readable_at_320_px(open_page, pages):
    """At least 8 px for the smallest where a page is narrowest; our own rule."""
    page = open_page(pages["tired"], 320)
    heights = page.evaluate(
        "[...document.querySelectorAll('figure svg text')].map(t => "
        "parseFloat(getComputedStyle(t).fontSize) * t.ownerSVGElement.getScreenCTM().a)"
    )
    assert len(heights) > 50
    assert min(heights) >= 7.9


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_exam_prints_on_one_sheet(open_page, pages, exams, tmp_path, paper):
    for name in ("doubtful", "tired", "dense", "stopped"):
        assert _sheets(open_page(pages[name]), paper) == 1
    two = write_report([exams["arc"], exams["one-eye"]], tmp_path / "two.html")
    assert _sheets(open_page(two), paper) == 2


def _sheets(page, paper):
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper)))


@pytest.mark.parametrize("name", ["arc", "tired", "one-eye", "stopped"])
def test_nothing_overlaps_on_the_printed_sheet(open_page, pages, name):
    """Laid out at the width A4 leaves between margins of 8 mm: 194 mm at 96 px an inch."""
    page = open_page(pages[name], round(194 / 25.4 * 96))
    page.emulate_media(media="print")
    blocks = page.evaluate(SHEET_JS)
    assert len(blocks) >= 7
    clashes = [
        (a[0], b[0])
        for a, b in combinations(blocks, 2)
        if min(a[2], b[2]) - max(a[1], b[1]) > 0.5 and min(a[4], b[4]) - max(a[3], b[3]) > 0.5
    ]
    assert clashes == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_contrast_is_at_least_four_and_a_half_to_one(open_page, pages, scheme):
    """WCAG 2.2, 1.4.3, for words on the page and in the pictures."""
    for name in ("arc", "stopped"):
        page = open_page(pages[name], scheme=scheme)
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        told = page.evaluate(COLOURS_JS)
        assert len(told) > 200
        weak = [(what, a, b) for what, a, b in told if contrast_ratio(a, b) < 4.5]
        assert weak == []


def test_contrast_formula_on_black_and_white():
    """21:1, WCAG 2.2."""
    assert contrast_ratio("#000000", "rgb(255, 255, 255)") == pytest.approx(21)


def test_headings_are_in_order_and_pictures_have_words(open_page, exams, tmp_path):
    path = write_report([exams["arc"], exams["stopped"]], tmp_path / "two.html")
    page = open_page(path)
    check_headings(page, seconds=2)
    check_pictures_have_words(page, 12)


def test_the_tables_open_from_the_keyboard(open_page, pages):
    page = open_page(pages["one-eye"])
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    page.keyboard.press("Enter")
    assert page.locator("#exam-1-left-places").is_visible()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('role')") == "region"


def test_an_exam_with_everything_or_nothing_seen_prints_on_one_sheet(open_page, tmp_path):
    for centre_db, word in ((45.0, "all 17 places were seen"), (-20.0, "17 of 17 places were not")):
        eye = {"centre_db": centre_db}
        model = _model(eye)
        folder = make_exam(tmp_path / f"x{centre_db:.0f}", model, protocol="screen-17")
        path = write_report([folder], folder / "report.html")
        assert path.read_text().count(word) >= 2
        assert _sheets(open_page(path), "Letter") == 1


def _model(eye):
    made = {"format": 1, "about": "Invented.", "age_years": 60, "right": eye, "left": eye}
    return msgspec.convert(made, ObserverFile)


def test_the_pdf_has_one_a4_sheet_an_exam_with_the_same_words(exams, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext: apt-get install poppler-utils")
    chosen = ["arc", "doubtful", "one-eye", "stopped"]
    path = write_report([exams[name] for name in chosen], tmp_path / "sheets.pdf")
    facts = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True)
    assert re.search(r"Pages:\s+4\b", facts.stdout)
    assert "A4" in facts.stdout
    assert "CreationDate" not in facts.stdout
    for number, name in enumerate(chosen, start=1):
        text = _sheet_text(path, number)
        result = json.loads((exams[name] / "result.json").read_text())
        assert RESEARCH_ONLY in text
        assert result["exam"]["participant"] in text
        assert result["reference"]["notice"] in text
        assert result["journal_sha256"] in text.replace(" ", "")
        for found in result["eyes"].values():
            assert _squeezed(found["sentence"]) in _squeezed(text)


def _sheet_text(path, number):
    """The words of one sheet in the order they were written, lines joined."""
    done = subprocess.run(
        ["pdftotext", "-raw", "-f", str(number), "-l", str(number), str(path), "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return " ".join(done.stdout.split())


def _squeezed(text):
    return "".join(text.split())


@pytest.mark.parametrize("name", ["page.txt", "page", "page.docx"])
def test_another_suffix_is_refused(exams, tmp_path, name):
    with pytest.raises(InputError, match=r"--out.*\.html or \.pdf"):
        write_report([exams["arc"]], tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_wrong_folders_are_refused_and_nothing_is_written(exams, tmp_path):
    empty = tmp_path / "empty"
    empty.mkdir()
    with pytest.raises(InputError):
        write_report([empty], tmp_path / "page.html")
    with pytest.raises(InputError, match="folder that exists"):
        write_report([exams["arc"]], tmp_path / "nowhere" / "page.html")
    with pytest.raises(InputError, match="at least one folder"):
        report_page([])
    assert list(tmp_path.iterdir()) == [empty]
