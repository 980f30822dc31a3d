"""`ripplefield reference build` and `check` on recorded exams, and a reference in use."""

from __future__ import annotations

import json
import re
import shutil

import pytest
from healthy_people import examine, examine_many, tiny_protocol
from records import record

from analysis.grade import grade_folder
from analysis.reference import limits_db, load_reference
from analysis.report.page import report_page
from stimulus.cli import run

SYNTHETIC = "SYNTHETIC REFERENCE"


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """62 healthy simulated people of three places, and the reference built from them."""
    folder = tmp_path_factory.mktemp("lab")
    examine_many(folder / "healthy", 62, 1)
    examine(folder / "healthy" / "again", "H-01000", 9999, days=400)
    assert run(["reference", "build", str(folder / "healthy"), "--out", str(folder / "ours.toml"),
                "--name", "ours"]) == 0  # fmt: skip
    return folder


def test_it_writes_a_reference_that_loads(lab):
    found = load_reference(lab / "ours.toml").file
    assert (found.name, found.people, found.measured.eyes) == ("ours", 62, 124)
    assert (found.measured.exams, found.measured.protocol) == (63, "tiny")
    assert found.synthetic
    assert SYNTHETIC in found.notice


def test_the_page_says_what_the_file_says(lab):
    page = (lab / "ours.html").read_text()
    found = load_reference(lab / "ours.toml").file
    assert SYNTHETIC in page
    assert "Research use only" in page
    assert page.count('class="picture place-') == 3
    table = re.search(r'<table class="places".*?</table>', page, re.DOTALL)[0]
    rows = re.findall(r"<tr><th scope=\"row\">(\d+)</th>(.*?)</tr>", table)
    assert len(rows) == 3
    for number, cells in rows:
        values = re.findall(r"<td>(.*?)</td>", cells)
        place = found.measured.places[int(number)]
        assert float(values[3]) == pytest.approx(place.median_db, abs=0.051)
        limit = limits_db(load_reference(lab / "ours.toml"), tiny_protocol().pattern.places,
                          found.from_age_years)[int(number)]  # fmt: skip
        assert float(values[6]) == pytest.approx(limit, abs=0.06)
    assert "a later exam in again" in page


def test_building_again_gives_the_same_bytes(lab, tmp_path):
    assert run(["reference", "build", str(lab / "healthy"), "--out", str(tmp_path / "b.toml"),
                "--name", "ours"]) == 0  # fmt: skip
    assert (tmp_path / "b.toml").read_bytes() == (lab / "ours.toml").read_bytes()
    assert (tmp_path / "b.html").read_bytes() == (lab / "ours.html").read_bytes()


def test_a_new_healthy_sample_passes(lab, tmp_path, capsys):
    examine_many(tmp_path / "new", 15, 2)
    assert run(["reference", "check", str(lab / "ours.toml"), str(tmp_path / "new")]) == 0
    said = capsys.readouterr().out
    assert "the limits hold for 15 new people, 30 eyes" in said
    assert SYNTHETIC in said
    assert "Research use only" in said


def test_people_who_see_less_do_not_pass(lab, tmp_path, capsys):
    examine_many(tmp_path / "lower", 15, 3, shift_db=-7.0)
    words = ["reference", "check", str(lab / "ours.toml"), str(tmp_path / "lower"), "--json"]
    assert run(words) == 1
    found = json.loads(capsys.readouterr().out)
    assert not found["holds"]
    one = found["findings"][0]
    assert one["share"] == 0.01
    assert one["rate"] == pytest.approx(one["below"] / one["places"])
    assert one["interval"][0] > one["stated"][1]


def test_few_exams_are_refused_and_nothing_is_written(lab, tmp_path, capsys):
    for code in ("H-01001", "H-01002"):
        shutil.copytree(lab / "healthy" / code, tmp_path / "few" / code)
    before = sorted(tmp_path.rglob("*"))
    words = ["reference", "build", str(tmp_path / "few"), "--out", str(tmp_path / "x.toml")]
    assert run(words) == 2
    assert "got \"2 healthy people" in capsys.readouterr().err
    assert sorted(tmp_path.rglob("*")) == before


def test_screening_exams_measure_no_thresholds(tmp_path, capsys):
    record(tmp_path / "e", "healthy")
    assert run(["reference", "build", str(tmp_path / "e"), "--out", str(tmp_path / "x.toml")]) == 2
    assert "screen-19, which measures no thresholds" in capsys.readouterr().err


def test_other_protocols_are_refused(lab, tmp_path, capsys):
    record(tmp_path / "e", "healthy", "bayes-19")
    words = ["reference", "build", str(lab / "healthy"), str(tmp_path / "e")]
    assert run([*words, "--out", str(tmp_path / "x.toml")]) == 2
    assert "allowed: exams under one protocol" in capsys.readouterr().err
    assert run(["reference", "check", str(lab / "ours.toml"), str(tmp_path / "e")]) == 2
    assert "the protocol the reference was measured with" in capsys.readouterr().err


def test_the_bundled_reference_cannot_be_checked(lab, tmp_path, capsys):
    bundled = tmp_path / "bundled.toml"
    bundled.write_text(load_reference().text)
    assert run(["reference", "check", str(bundled), str(lab / "healthy")]) == 2
    assert "allowed: a reference that was measured" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("out", "allowed"),
    [("x.json", "a name that ends in .toml"), ("no/x.toml", "a name in a folder that exists")],
)
def test_where_it_cannot_be_written(lab, tmp_path, capsys, out, allowed):
    words = ["reference", "build", str(lab / "healthy"), "--out", str(tmp_path / out)]
    assert run(words) == 2
    assert allowed in capsys.readouterr().err


def test_an_exam_run_and_graded_with_it_carries_the_watermark(lab, tmp_path):
    """From the lab's file to a record, a result and a page."""
    folder = examine(tmp_path / "e", "P-1", 5, reference=lab / "ours.toml", age_years=50)
    result = grade_folder(folder)
    assert result.reference.name == "ours"
    assert result.reference.people == 62
    assert SYNTHETIC in result.reference.notice
    for eye in ("right", "left"):
        limits = limits_db(load_reference(lab / "ours.toml"),
                           tiny_protocol().pattern.for_eye(eye), 50, eye)  # fmt: skip
        assert [p.limit_db for p in result.eyes[eye].places] == pytest.approx(limits, abs=1e-4)
    assert SYNTHETIC in report_page([folder])
