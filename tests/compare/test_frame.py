"""`analysis.load(path)`: one row a place or a presentation, documented columns, right types."""

from __future__ import annotations

import subprocess
import sys

import pandas as pd
import pytest
from visits import series, visit

import analysis
from analysis.agreement import retest_pairs
from analysis.columns import PLACE_COLUMNS, PRESENTATION_COLUMNS
from analysis.grade import grade_folder
from analysis.load import load_exam
from protocols.errors import InputError


@pytest.fixture(scope="module")
def exams(tmp_path_factory):
    folder = tmp_path_factory.mktemp("exams")
    visit(folder / "a", 1, eyes=("right", "left"))
    visit(folder / "b", 2, eyes=("right", "left"), days=30)
    return folder


def test_one_row_a_place_of_each_eye(exams):
    frame = analysis.load(exams)
    assert list(frame.columns) == list(PLACE_COLUMNS)
    assert len(frame) == 2 * 2 * 8
    assert frame.groupby(["exam", "eye"]).size().tolist() == [8] * 4


def test_the_numbers_are_the_results(exams):
    frame = analysis.load(exams / "a").set_index(["eye", "number"])
    for eye, found in grade_folder(exams / "a").eyes.items():
        for place in found.places:
            row = frame.loc[(eye, place.number)]
            assert row.estimate_db == place.estimate_db
            assert (row.low_db, row.high_db) == place.interval_db
            assert row.grade == place.grade
            assert row.temporal_deg == (place.x_deg if eye == "right" else -place.x_deg)


def test_one_row_a_presentation(exams):
    frame = analysis.load(exams / "a", rows="presentations")
    assert list(frame.columns) == list(PRESENTATION_COLUMNS)
    trials = load_exam(exams / "a").trials
    assert len(frame) == len(trials)
    assert frame.onset_s.tolist() == [trial.shown.onset_s for trial in trials]
    blanks = frame[frame.role == "blank"]
    assert blanks.level_db.isna().all()
    seen = frame[frame.verdict == "seen"]
    assert seen.response_time_s.between(0.1, 1.0).all()
    assert (frame.delivered_db - frame.level_db).dropna().round(3).nunique() == 1


def test_units_and_notice_travel_with_the_frame(exams):
    frame = analysis.load(exams)
    assert frame.attrs["columns"]["estimate_db"][0] == "contrast dB"
    assert set(frame.attrs["columns"]) == set(frame.columns)
    assert frame.attrs["notice"].startswith("Research use only")
    assert "not the attenuation dB" in frame.attrs["unit_note"]


@pytest.mark.parametrize("columns", [PLACE_COLUMNS, PRESENTATION_COLUMNS])
def test_every_column_says_what_it_is_and_a_unit_where_its_name_has_one(columns):
    units = {"_db": "dB", "_deg": "degrees", "_s": "s", "_years": "years"}
    for name, column in columns.items():
        assert len(column.meaning) > 5
        for ending, unit in units.items():
            if name.endswith(ending):
                assert unit in column.unit, name


def test_missing_stays_missing(exams, tmp_path):
    import shutil

    shutil.copytree(exams / "a", tmp_path / "cut")
    lines = (tmp_path / "cut" / "journal.jsonl").read_bytes().splitlines(keepends=True)
    (tmp_path / "cut" / "journal.jsonl").write_bytes(b"".join(lines[:12]))
    frame = analysis.load(tmp_path / "cut")
    unfinished = frame[frame.estimate_db.isna()]
    assert len(unfinished) > 0
    assert unfinished.grade.isna().all()
    assert str(frame.grade.dtype) == "Int64"


def test_several_folders_and_a_list(exams):
    several = analysis.load([exams / "b", str(exams / "a")])
    assert several.exam.unique().tolist() == ["b", "a"]


def test_a_round_trip_through_csv_keeps_the_numbers(exams, tmp_path):
    frame = analysis.load(exams)
    frame.to_csv(tmp_path / "t.csv", index=False)
    again = pd.read_csv(tmp_path / "t.csv")
    assert again.estimate_db.tolist() == frame.estimate_db.tolist()


def test_what_is_no_exam_is_refused(tmp_path):
    with pytest.raises(InputError, match="a folder that holds"):
        analysis.load(tmp_path)
    with pytest.raises(InputError, match=r"rows: got .*; allowed: places or presentations"):
        analysis.load(tmp_path, rows="pages")


@pytest.mark.parametrize("first", ["", "import analysis.load\n", "from analysis import load\n"])
def test_it_can_be_called_however_the_package_was_imported(exams, first):
    code = f"import analysis\n{first}print(len(analysis.load({str(exams)!r})))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "32"


def test_first_and_second_exams_are_paired(tmp_path):
    series(tmp_path / "s", [0, 0, 0])
    frame = analysis.load(tmp_path / "s")
    places = retest_pairs(frame, "place")
    assert len(places) == 8
    first = frame[frame.exam == "visit-0"].set_index("number").estimate_db
    second = frame[frame.exam == "visit-1"].set_index("number").estimate_db
    assert places.set_index("number").first_db.to_dict() == first.to_dict()
    assert places.set_index("number").second_db.to_dict() == second.to_dict()
    [eye] = retest_pairs(frame).itertuples()
    assert (eye.first_db, eye.second_db) == pytest.approx((first.mean(), second.mean()))
