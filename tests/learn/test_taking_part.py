"""The student as the participant: a real window, a simulated button, questions on what was done."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from case_rigs import CASE
from jsonschema import Draft202012Validator

from analysis.cases.own import own_questions
from analysis.cases.record import OWN, record_schema
from analysis.reliability import rate
from analysis.result import (
    EyeResult,
    PlaceAnswer,
    PlaceResult,
    Reliability,
    ResponseTimes,
    Summary,
)
from protocols.verify import verify

PROGRAM = Path(sys.executable).with_name("ripplefield")
PROTOCOL = """
format = 1
name = "tiny"
about = "Two places, as fast as the rules let; late frames never spoil, so load changes nothing."
pattern = "two.toml"

[stimulus]
duration_s = 0.05
ramp_s = 0.0

[answering]
accept_until_s = 0.6

[foreperiod]
min_s = 0.1
max_s = 0.12
lead_in_s = 0.0

[practice]
presentations = 2
needed = 1
rounds = 1

[procedure]
kind = "rising"

[catch_trials]
blind_spot = 1
blank = 1
full_contrast = 1
none_in_first = 1

[frames]
late_allowed = 1000

[safety]
override_reason = "A test on a virtual screen that nobody looks at."
"""
PATTERN = 'format = 1\nname = "two"\nplaces_deg = [[0.0, 8.0], [0.0, -8.0]]\n'
OBSERVER = 'format = 1\nabout = "Sees all at once."\n[reaction]\nmean_s = 0.2\ntail_s = 0.0\n'


def test_an_own_exam_in_a_window(display, tmp_path):
    for name, text in {
        "tiny.toml": PROTOCOL,
        "two.toml": PATTERN,
        "eye.toml": OBSERVER,
        "mine.toml": f'{CASE}eyes = "left"\nprotocol = "tiny.toml"\n',
    }.items():
        (tmp_path / name).write_text(text)
    done = subprocess.run(
        [str(PROGRAM), "learn", "mine.toml", "--as", "participant", "--age", "45",
         "--distance", "35", "--screen-width", "53", "--windowed", "640x480",
         "--button", "simulated:eye.toml", "--out", "lesson", "--json"],
        cwd=tmp_path, input="1\n1\n1\n3\n", text=True, capture_output=True, timeout=120,
        env={**os.environ, "DISPLAY": display},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    record = json.loads(done.stdout)
    Draft202012Validator(record_schema()).validate(record)
    assert (record["role"], record["truth"], record["about"]) == ("participant", None, OWN)
    assert set(record["answers"]) == {"blanks", "strong", "first", "half"}
    exam = tmp_path / "lesson" / "mine" / "own-exam"
    assert not verify(exam).problems
    result = json.loads((exam / "result.json").read_text())
    assert list(result["eyes"]) == ["left"]
    assert result["display"]["calibrated"] is False
    found = result["eyes"]["left"]["reliability"]["false_positive"]
    [blanks] = [mark for mark in record["score"]["marks"] if mark["key"] == "blanks"]
    assert blanks["why"] == f"Pressed at {found['wrong']} of {found['shown']}."
    assert (blanks["points"] == 1) == (found["wrong"] == 0)


def place(y_deg: float, grade: int, seen: bool) -> PlaceResult:
    answer = PlaceAnswer(0, "place", 18.0, seen, 0.4 if seen else None)
    return PlaceResult(0, 0.0, y_deg, grade, 0.9, True, [], 10.0, (5.0, 15.0), "", 18.0, 24.0, 0.0,
                       1, seen, [answer])  # fmt: skip


@pytest.mark.parametrize(
    ("blanks", "missed", "grades", "right"),
    [
        (0, 0, [(8, 0), (-8, 0)], ["0", "0", "nearly", "alike"]),
        (1, 0, [(8, 4), (-8, 0)], ["1", "0", "most", "upper"]),
        (3, 2, [(8, 1), (-8, 3), (-9, 3)], ["2", "2", "few", "lower"]),
    ],
)
def test_the_truth_of_an_own_exam_is_what_was_done(blanks, missed, grades, right):
    counts = Reliability(rate(0, 3), rate(blanks, 3), rate(missed, 3), 0, 0, 0)
    places = [place(y, grade, grade == 0) for y, grade in grades]
    summary, times = Summary(0, 0, [], 0, None, None), ResponseTimes(0, None, None)
    eye = EyeResult("complete", "", places, summary, counts, times, 0, 0.0)
    assert [sorted(question.right) for question in own_questions(eye)] == [[key] for key in right]
