"""`ripplefield compare`: words, tables, JSON and a page that agree with each other."""

from __future__ import annotations

import json
import re

import pytest
from visits import series, visit

from stimulus.cli import run


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    return [str(path) for path in series(tmp_path_factory.mktemp("s"), [-3, 0, 0, 0])]


def test_words_come_first_then_tables(folders, capsys):
    assert run(["compare", *folders]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Right eye: ")
    assert said.index("practice may have helped") < said.index("Visits of the right eye")
    assert "Places of the right eye" in said
    assert "SYNTHETIC REFERENCE" in said
    assert "Simulated participant" in said
    assert said.endswith("licensed practice decide.\n")


def test_json_holds_the_same_numbers(folders, capsys):
    assert run(["compare", *folders, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["participant"] == "P-7"
    assert [exam["exam"] for exam in found["exams"]] == [f"visit-{k}" for k in range(4)]
    assert found["asymmetry"] is None
    eye = found["eyes"]["right"]
    assert eye["change"]["arrangements"] == 24
    assert len(eye["steps"]) == len(eye["change"]["trends"]) == 8
    assert found["notice"].startswith("Research use only")


def test_the_page_agrees_with_the_json(folders, tmp_path, capsys):
    page = tmp_path / "p.html"
    assert run(["compare", *folders, "--json", "--out", str(page)]) == 0
    eye = json.loads(capsys.readouterr().out)["eyes"]["right"]
    text = page.read_text()
    table = re.search(r'<table class="places" id="visits-right-places">.*?</table>', text, re.S)[0]
    rows = re.findall(r"<tr><th scope=\"row\">(\d+)</th>(.*?)</tr>", table)
    assert [int(number) for number, _ in rows] == [step["number"] for step in eye["steps"]]
    for (_, cells), step in zip(rows, eye["steps"], strict=True):
        values = re.findall(r"<td>(.*?)</td>", cells)
        assert float(values[0]) == pytest.approx(step["first_db"], abs=0.051)
        assert float(values[2]) == pytest.approx(step["step"]["difference_db"], abs=0.051)
    assert "Research use only" in text
    assert "SYNTHETIC REFERENCE" in text
    assert text.count("<svg") == 4  # the mark and three pictures
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", text)


def test_the_same_exams_give_the_same_page(folders, tmp_path):
    for name in ("a.html", "b.html"):
        assert run(["compare", *folders, "--out", str(tmp_path / name)]) == 0
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()


def test_nothing_is_written_into_the_exams(folders, tmp_path, capsys):
    one = visit(tmp_path / "e", 4, eyes=("right", "left"))
    before = sorted(path.name for path in one.iterdir())
    assert run(["compare", str(one)]) == 0
    assert sorted(path.name for path in one.iterdir()) == before
    assert capsys.readouterr().out.startswith("Eyes: ")


def test_different_people_are_refused_with_one_line(folders, tmp_path, capsys):
    other = visit(tmp_path / "other", 9, code="P-8", days=900)
    words = ["compare", folders[0], str(other), "--out", str(tmp_path / "p.html")]
    assert run(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == (
        f'error: participant of {other}: got "P-8"; allowed: exams of one participant, P-7 as in '
        f"{folders[0]}. Compare exams of one person.\n"
    )
    assert not (tmp_path / "p.html").exists()


def test_a_page_of_another_kind_is_refused(folders, tmp_path, capsys):
    assert run(["compare", *folders, "--out", str(tmp_path / "p.docx")]) == 2
    assert "a name that ends in .html" in capsys.readouterr().err
