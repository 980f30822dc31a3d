"""Wrong cases, records and command lines: one clear line each, exit code 2, nothing made."""

from __future__ import annotations

import io
import json

import pytest
from case_rigs import CASE

from protocols.cases.file import bundled_cases
from stimulus.cli import run

SHAPES = (
    "both_arcs or diffuse or half_field or healthy or isolated or lower_arc or nasal_step or "
    "patches or upper_arc"
)
HABITS = "careful or trigger_happy or wandering or lapsing or tiring or slow"
FAULTS = (
    "none or wrong_distance or other_eye_open or bright_room or uncalibrated_screen or tilted_head"
)
KEYS = (
    "about, age_years, earlier, eyes, format, left, level, name, observer, protocol, right, seed, "
    "set_up"
)
WRONG_FILES = {
    "unknown key": (
        'colour = "red"\n',
        f'mine.toml, colour: got "an unknown key"; allowed: {KEYS}. Remove it.',
    ),
    "unknown key, near": (
        "[observr]\n",
        f'mine.toml, observr: got "an unknown key"; allowed: {KEYS}. Did you mean observer?',
    ),
    "unknown key of an eye": (
        '[right]\nshape = "diffuse"\ndepth_db = 3\n',
        'mine.toml, right.depth_db: got "an unknown key"; allowed: deepest_db, shape. '
        "Did you mean deepest_db?",
    ),
    "unknown shape": (
        '[left]\nshape = "ring"\n',
        f'mine.toml, left.shape: got "ring"; allowed: {SHAPES}. Change it.',
    ),
    "wrong type": (
        '[left]\nshape = "diffuse"\ndeepest_db = "12 dB"\n',
        'mine.toml, left.deepest_db: got "12 dB"; allowed: a number above 0 to 40. '
        "Write a bare number: the unit is in the key's name (contrast dB).",
    ),
    "out of range": (
        '[left]\nshape = "diffuse"\ndeepest_db = 41.0\n',
        "mine.toml, left.deepest_db: got 41; allowed: a number above 0 to 40. "
        "Change it; the unit is contrast dB.",
    ),
    "depth of a healthy eye": (
        "[left]\ndeepest_db = 4.0\n",
        'mine.toml, left.deepest_db: got "4"; allowed: left out where shape is healthy. '
        "Name a shape of loss or remove deepest_db.",
    ),
    "unknown habit": (
        '[observer]\nhabit = "sleepy"\n',
        f'mine.toml, observer.habit: got "sleepy"; allowed: {HABITS}. Change it.',
    ),
    "habit without its number": (
        '[observer]\nhabit = "lapsing"\n',
        "mine.toml, observer.lapse_rate: got nothing; allowed: a number above 0 to 0.9. "
        "Add observer.lapse_rate.",
    ),
    "number of another habit": (
        '[observer]\nhabit = "slow"\nmean_s = 0.9\nlapse_rate = 0.2\n',
        'mine.toml, observer.lapse_rate: got "an unknown key"; allowed: heeds, mean_s. Remove it.',
    ),
    "heeds more than all": (
        '[observer]\nhabit = "slow"\nmean_s = 0.9\nheeds = 1.5\n',
        "mine.toml, observer.heeds: got 1.5; allowed: a number 0 to 1. Change it.",
    ),
    "unknown fault": (
        '[set_up]\nfault = "fog"\n',
        f'mine.toml, set_up.fault: got "fog"; allowed: {FAULTS}. Change it.',
    ),
    "fault out of range": (
        '[set_up]\nfault = "wrong_distance"\ntrue_distance_cm = 5.0\n',
        "mine.toml, set_up.true_distance_cm: got 5; allowed: a number 15 to 150. "
        "Change it; the unit is centimetres.",
    ),
    "earlier without years": (
        "[earlier]\nshallower_db = 3.0\n",
        "mine.toml, earlier.years: got nothing; allowed: a number 0.1 to 20. Add earlier.years.",
    ),
    "no TOML": (
        "level 2\n",
        "mine.toml: got \"Expected '=' after a key in a key/value pair (at line 8, column 7)\"; "
        "allowed: TOML 1.0. Mend the line it names.",
    ),
}
WRONG_TEXTS = {
    "level": (
        "level = 2", "level = 7",
        "mine.toml, level: got 7; allowed: a whole number 1 to 6. Change it.",
    ),
    "level as text": (
        "level = 2", 'level = "easy"',
        'mine.toml, level: got "easy"; allowed: a whole number 1 to 6. Change it.',
    ),
    "age": (
        "age_years = 50", "age_years = 12",
        "mine.toml, age_years: got 12; allowed: a whole number 20 to 85. "
        "Change it; the unit is years.",
    ),
    "seed": (
        "seed = 7", "seed = -1",
        "mine.toml, seed: got -1; allowed: a whole number 0 to 4294967295. Change it.",
    ),
    "name": (
        'name = "mine"', 'name = "../mine"',
        'mine.toml, name: got "../mine"; allowed: text. Change it.',
    ),
    "missing key": (
        "seed = 7\n", "",
        "mine.toml, seed: got nothing; allowed: a whole number 0 to 4294967295. Add seed.",
    ),
    "eyes": (
        "level = 2", 'level = 2\neyes = "three"',
        'mine.toml, eyes: got "three"; allowed: both or left or right. Change it.',
    ),
    "protocol": (
        "level = 2", 'level = 2\nprotocol = "nowhere"',
        'protocol: got "nowhere"; allowed: bayes-19, decide-19, joint-19, screen-17, screen-19, '
        "staircase-19, or the path of a .toml file. Check the spelling or the path.",
    ),
    "from the future": (
        "format = 1", "format = 2",
        "mine.toml, format: got 2; allowed: up to 1. It was made by a newer version: use that one.",
    ),
}  # fmt: skip
WRONG_LINES = {
    "no such case": (
        ["nobody", "--list"],
        'case: got "nobody"; allowed: a bundled name or the path of a .toml file. '
        "See the names: ripplefield learn --list",
    ),
    "a case twice": (
        ["case-01", "case-01", "--list"],
        'case: got "case-01"; allowed: cases of different names. Leave one out or rename it.',
    ),
    "text without a case": (
        ["--text"],
        "case: got nothing; allowed: one case. Name one. See: ripplefield learn --list",
    ),
    "text with two": (
        ["case-01", "case-02", "--text"],
        'case: got "case-01, case-02"; allowed: one case. Name one. '
        "See: ripplefield learn --list",
    ),
    "unknown role": (
        ["case-01", "--as", "teacher"],
        '--as: got "teacher"; allowed: operator, reader or participant. Choose one of them.',
    ),
    "seed": (
        ["case-01", "--text", "--seed", "x"],
        '--seed: got "x"; allowed: a whole number from 0 to 4294967295. Give a whole number.',
    ),
    "participant without a distance": (
        ["case-01", "--as", "participant", "--age", "30"],
        "--distance: got nothing; allowed: a number, for a participant. Add --distance.",
    ),
    "record that is not there": (
        ["--check", "none.json"],
        'record: got "none.json"; allowed: a file that exists. Check the path.',
    ),
    "folder that is a file": (
        ["case-01", "--text", "--out", "mine.toml"],
        '--out: got "mine.toml"; allowed: a folder that can be written to. '
        "The system says: Not a directory.",
    ),
    "role for pages": (
        ["case-01", "--as", "operator"],
        '--as: got "operator"; allowed: participant, or with --text. '
        "Add --text, or leave --as out: the pages offer both.",
    ),
    "pages as JSON": (
        ["--json"],
        '--json: got "pages"; allowed: --list, --text, --check or --as participant beside it. '
        "Add one of them.",
    ),
    "age of nobody": (
        ["case-01", "--text", "--age", "30"],
        "--age: got 30; allowed: with --as participant only. Leave --age out.",
    ),
    "port out of range": (
        ["case-01", "--port", "70000"],
        '--port: got "70000"; allowed: a whole number from 0 to 65535. '
        "Choose one that is free; 0 lets the system choose.",
    ),
    "unknown option": (
        ["--lst"],
        'option: got "--lst"; allowed: --as, --text, --list, --check, --json, --out, --student, '
        "--seed, --port, --age, --windowed, --distance, --screen-width, --button, "
        "--safety-confirmed-by, --help. Did you mean --list? See: ripplefield learn --help",
    ),
}


@pytest.fixture(autouse=True)
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("DISPLAY", raising=False)
    (tmp_path / "mine.toml").write_text(CASE)
    return tmp_path


def refused(desk, words, capsys) -> str:
    before = sorted(desk.rglob("*"))
    code = run(["learn", *words])
    said = capsys.readouterr()
    assert (code, said.out) == (2, "")
    assert sorted(desk.rglob("*")) == before
    return said.err


@pytest.mark.parametrize("name", WRONG_FILES)
def test_a_wrong_table(name, desk, capsys):
    added, error = WRONG_FILES[name]
    (desk / "mine.toml").write_text(CASE + added)
    assert refused(desk, ["mine.toml", "--list"], capsys) == f"error: {error}\n"


@pytest.mark.parametrize("name", WRONG_TEXTS)
def test_a_wrong_key(name, desk, capsys):
    old, new, error = WRONG_TEXTS[name]
    assert old in CASE
    (desk / "mine.toml").write_text(CASE.replace(old, new))
    words = ["mine.toml", "--text"] if name == "protocol" else ["mine.toml", "--list"]
    assert refused(desk, words, capsys) == f"error: {error}\n"


def test_a_loss_that_nobody_could_find(desk, capsys):
    """A reader who finds nothing, since no place lies below its limit, would lose points."""
    (desk / "mine.toml").write_text(CASE + '[left]\nshape = "lower_arc"\ndeepest_db = 0.5\n')
    assert refused(desk, ["mine.toml", "--text"], capsys) == (
        "error: mine, left.deepest_db: got 0.5; allowed: a loss that takes a place of this person "
        "below the limit. Make it deeper, draw another seed, or call the eye healthy.\n"
    )


@pytest.mark.parametrize("name", WRONG_LINES)
def test_a_wrong_line(name, desk, capsys):
    words, error = WRONG_LINES[name]
    assert refused(desk, words, capsys) == f"error: {error}\n"


def test_a_student_is_a_code(desk, capsys):
    said = refused(desk, ["case-01", "--text", "--student", "Anna"], capsys)
    assert said.startswith('error: ')
    assert "no name" in said


def test_a_participant_is_asked_for_safety_first(desk, capsys):
    words = ["case-01", "--as", "participant", "--age", "30", "--distance", "35",
             "--screen-width", "53"]  # fmt: skip
    code = run(["learn", *words])
    assert code == 2
    assert "Have you ever had a seizure" in capsys.readouterr().err


WRONG_RECORDS = {
    "no JSON": ("{", "operator.json: got"),
    "unknown key": ('{"mark": 1}', 'operator.json, mark: got "an unknown key"; allowed:'),
    "another case": ("", 'record: got "case mine, SHA-256 '),
}


@pytest.mark.parametrize("name", WRONG_RECORDS)
def test_a_wrong_record(name, desk, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("run\nrun\nnext keep\n"))
    assert run(["learn", "mine.toml", "--text", "--as", "operator", "--out", "o"]) == 0
    capsys.readouterr()
    path = desk / "o" / "mine" / "operator.json"
    text, error = WRONG_RECORDS[name]
    if name == "unknown key":
        path.write_text(json.dumps(json.loads(path.read_text()) | json.loads(text)))
    elif text:
        path.write_text(text)
    words = ["case-01" if name == "another case" else "mine.toml", "--check", str(path)]
    assert refused(desk, words, capsys).startswith(f"error: {error}")


def test_the_list_is_the_library(capsys):
    assert run(["learn", "--list", "--json"]) == 0
    assert [one["name"] for one in json.loads(capsys.readouterr().out)] == bundled_cases()
