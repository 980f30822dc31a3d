"""Many exams at once: one tidy table, the same results as one by one, errors that name the exam."""

from __future__ import annotations

import csv
import json
import shutil

import pytest
from records import record
from visits import visit

from analysis.columns import PLACE_COLUMNS
from analysis.load import load_exam
from analysis.many import exams_below, on_each
from analysis.told import told_again
from protocols.replay import plan_from, replay
from stimulus.cli import run


@pytest.fixture(scope="module")
def exams(tmp_path_factory):
    folder = tmp_path_factory.mktemp("many") / "exams"
    for k in range(3):
        visit(folder / f"e{k}", k, eyes=("right", "left"), days=k)
    return folder


def test_one_table_with_a_row_for_each_place(exams, tmp_path, capsys):
    table = tmp_path / "all.csv"
    assert run(["grade", str(exams), "--table", str(table), "--json"]) == 0
    results = json.loads(capsys.readouterr().out)
    rows = list(csv.DictReader(table.open()))
    assert list(rows[0]) == list(PLACE_COLUMNS)
    assert len(rows) == 3 * 2 * 8
    told = [
        (eye, place["number"], place["estimate_db"])
        for result in results
        for eye, found in result["eyes"].items()
        for place in found["places"]
    ]
    assert [(r["eye"], int(r["number"]), float(r["estimate_db"])) for r in rows] == told


def test_a_folder_of_exams_stands_for_them(exams, tmp_path):
    assert exams_below([exams]) == [exams / f"e{k}" for k in range(3)]
    assert exams_below([exams / "e1"]) == [exams / "e1"]
    assert exams_below([tmp_path]) == [tmp_path]


def test_several_processes_give_the_same_in_order(exams):
    folders = exams_below([exams]) * 4
    told = []
    alone = [exam.journal_sha256 for exam in on_each(load_exam, folders, workers=1)]
    found = on_each(load_exam, folders, workers=2, watch=lambda done, total: told.append(done))
    assert [exam.journal_sha256 for exam in found] == alone
    assert told == list(range(13))


def test_the_table_is_the_same_however_many_work(exams, tmp_path, monkeypatch):
    import analysis.many

    tables = []
    for few in (48, 1):
        monkeypatch.setattr(analysis.many, "FEW", few)
        assert run(["grade", str(exams), "--table", str(tmp_path / f"{few}.csv")]) == 0
        tables.append((tmp_path / f"{few}.csv").read_bytes())
    assert tables[0] == tables[1]


def test_a_bad_exam_among_good_ones_is_named_and_no_table_is_written(exams, tmp_path, capsys):
    shutil.copytree(exams, tmp_path / "mixed")
    (tmp_path / "mixed" / "e1" / "journal.jsonl").write_text("no line\n")
    assert run(["grade", str(tmp_path / "mixed"), "--table", str(tmp_path / "t.csv")]) == 2
    assert "e1/journal.jsonl, line 1" in capsys.readouterr().err
    assert not (tmp_path / "t.csv").exists()


def test_a_table_of_another_kind_is_refused_before_anything_is_graded(exams, tmp_path, capsys):
    shutil.copytree(exams / "e0", tmp_path / "e")
    for name in ("result.json", "places.csv", "presentations.csv"):
        (tmp_path / "e" / name).unlink(missing_ok=True)
    assert run(["grade", str(tmp_path / "e"), "--table", str(tmp_path / "t.xls")]) == 2
    assert "a name that ends in .csv" in capsys.readouterr().err
    assert not (tmp_path / "e" / "result.json").exists()


@pytest.mark.parametrize("protocol", ["bayes-19", "staircase-19"])
@pytest.mark.parametrize("kept", [30, 90, None])
def test_ended_places_are_those_of_the_replayed_exam(tmp_path, protocol, kept):
    """The whole machine replayed, against the procedure told the answers alone; cut short too."""
    record(tmp_path / "e", "trigger-happy", protocol, seed=4, eyes=("right", "left"), age_years=38)
    journal = tmp_path / "e" / "journal.jsonl"
    journal.write_bytes(b"".join(journal.read_bytes().splitlines(keepends=True)[:kept]))
    exam = load_exam(tmp_path / "e")
    plan = plan_from(exam.opened, exam.protocol)
    state = replay(plan, [entry.event for entry in exam.entries])
    for eye in state.eyes:
        whole = plan.procedure.finished(eye.procedure)[0].tolist()
        assert told_again(exam, eye.eye).ended == whole
