"""`ripplefield simulate` as an operator meets it."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tables import rows_of, write_table

from analysis.reference import load_reference
from stimulus.cli import run

ROOT = Path(__file__).parents[2]
DESIGNED = [
    "observer", "repeat", "eye", "x_deg", "y_deg", "truth_db", "estimate_db", "sd_db", "low_db",
    "high_db", "grade", "place_presentations", "exam_presentations", "exam_seconds",
]  # fmt: skip


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    return write_table(tmp_path_factory.mktemp("truth") / "truth.csv", rows_of("screen-19", 4))


def _arguments(table, out, *more, protocol="bayes-19"):
    return ["simulate", protocol, "--observers", str(table), "--out", str(out), *more]


def test_results_with_their_birth_certificate(table, tmp_path, capsys):
    out = tmp_path / "results.csv"
    assert run(_arguments(table, out, "--repeats", "2", "--workers", "1", "--seed", "9")) == 0
    said = capsys.readouterr().out
    assert "16 simulated exams. No person was examined." in said
    assert "not a diagnosis" in said
    rows = list(csv.DictReader(out.open()))
    assert list(rows[0])[: len(DESIGNED)] == DESIGNED
    assert len(rows) == 4 * 2 * 2 * 19
    about = json.loads((tmp_path / "results.csv.about.json").read_text())
    assert "not a diagnosis" in about["notice"]
    assert (about["seed"], about["repeats"], about["protocol"]) == (9, 2, "bayes-19")
    assert list(about["columns"]) == list(rows[0])
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "results.csv", "results.csv.about.json"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--workers", "0"], '--workers: got "0"; allowed: a whole number from 1 to 1024'),
        (["--repeats", "x"], '--repeats: got "x"; allowed: a whole number from 1'),
        (["--workers", "2", "--cluster", "tcp://x:1"], "allowed: one of --workers and --cluster"),
        (["--reference", "nowhere.toml"], "reference: got"),
    ],
)
def test_a_wrong_option_is_one_clear_error(more, said, table, tmp_path, capsys):
    assert run(_arguments(table, tmp_path / "r.csv", *more)) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_wrong_table_or_name_leaves_nothing_behind(table, tmp_path, capsys):
    assert run(_arguments(table, tmp_path / "r.txt")) == 2
    assert "--out: got" in capsys.readouterr().err
    assert run(_arguments(table, tmp_path / "r.csv", protocol="screen-17")) == 2
    assert "a place of rings17 for the right eye within 0.1 degrees" in capsys.readouterr().err
    assert run(["simulate", "bayes-19", "--out", str(tmp_path / "r.csv")]) == 2
    assert "--observers" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_an_age_that_the_reference_does_not_cover_names_the_table(tmp_path, capsys):
    lines = [line.replace(line.split(",")[1], "98", 1) for line in rows_of("screen-19", 1)]
    table = write_table(tmp_path / "old.csv", lines)
    assert run(_arguments(table, tmp_path / "r.csv")) == 2
    assert "old.csv, age_years: got 98; allowed: 10 to 95 years" in capsys.readouterr().err


MEASURED = """
[measured]
method = "none"
pooling = "none"
protocol = "house"
protocol_sha256 = "none"
procedure = "bayes"
pattern = "house-1"
exams = 1
eyes = 1
uncalibrated = 0
confidence = 0.95
middle_age_years = 50.0
middle_eccentricity_deg = 40.0
wilks_content = 0.05
outliers = []
depths = [
  {share = 0.01, depth_db = -5.0, change_db_per_year = 0.0, change_db_per_deg = 0.0},
  {share = 0.99, depth_db = 5.0, change_db_per_year = 0.0, change_db_per_deg = 0.0}]
tolerances = [{share = 0.01, left_out = 0.0, interval = [0.0, 1.0]}]

[[measured.places]]
x_deg = 40.0
y_deg = 0.0
median_db = 20.0
change_db_per_year = 0.0
spread_db = 2.0
people = 1
left_out_below = 0.0
at_most_share = 1.0
"""


def test_a_reference_of_other_places_is_told_by_its_places_not_by_an_age(table, tmp_path, capsys):
    house = tmp_path / "house.toml"
    house.write_text(load_reference().text + MEASURED)
    assert run(_arguments(table, tmp_path / "r.csv", "--reference", str(house))) == 2
    said = capsys.readouterr().err
    assert "error: pattern: got \"a place " in said
    assert "allowed: the places of house-1, within 0.1 degrees" in said


def _process(arguments):
    return subprocess.Popen(
        [sys.executable, "-c", "from stimulus.cli import main; main()", *arguments],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


@pytest.mark.parametrize("workers", ["1", "2"])
def test_ctrl_c_keeps_finished_pieces_and_the_same_command_goes_on(table, workers, tmp_path):
    out = tmp_path / "r.csv"
    more = ("--repeats", "600", "--workers", workers)
    arguments = _arguments(table, out, *more, protocol="screen-19")
    process = _process(arguments)
    until = time.monotonic() + 60
    while not list(tmp_path.glob("r.csv.parts/part-*")) and time.monotonic() < until:
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert "the same command goes on from there" in said
    kept = len(list(tmp_path.glob("r.csv.parts/part-*")))
    assert 1 <= kept < 5
    assert run(arguments) == 0
    whole = tmp_path / "whole.csv"
    again = _arguments(table, whole, "--repeats", "600", "--workers", "1", protocol="screen-19")
    assert run(again) == 0
    assert out.read_bytes() == whole.read_bytes()
