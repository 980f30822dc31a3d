"""Text mode and records: a session in the terminal, handed to a teacher, and marked again."""

from __future__ import annotations

import io
import json

import pytest
from case_rigs import CASE, bundled, ideal_acts
from jsonschema import Draft202012Validator

from analysis.cases.operating import outcome
from analysis.cases.questions import Choice, next_step
from analysis.cases.readers import ideal_answers
from analysis.cases.record import INVENTED, record_schema
from protocols import RESEARCH_ONLY
from protocols.cases.file import load_case
from protocols.cases.setups import THINGS
from protocols.verify import verify
from stimulus.cli import run
from stimulus.learn.sessions import new_session

SCHEMA = Draft202012Validator(record_schema())


@pytest.fixture(autouse=True)
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("DISPLAY", raising=False)
    return tmp_path


def typed(monkeypatch, words, lines):
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
    return run(["learn", *words])


def lines_of(questions) -> list[str]:
    """All right answers as typed: the number of an option, or place numbers with commas."""
    return [_typed(question, ideal_answers([question])[question.key]) for question in questions]


def _typed(question, answer) -> str:
    if isinstance(question, Choice):
        return str([key for key, _ in question.options].index(answer) + 1)
    return ",".join(map(str, answer)) or "none" if isinstance(answer, list) else answer


def checked(path, capsys) -> dict:
    code = run(["learn", "--check", str(path), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert (code == 0) == found["as_recorded"]
    return found


@pytest.mark.parametrize("name", ["case-11", "case-22"])
def test_reading_a_result(name, desk, monkeypatch, capsys):
    answers = lines_of(bundled(name).questions)
    words = [name, "--text", "--out", "lesson", "--student", "S-04", "--json"]
    assert typed(monkeypatch, words, ["99", *answers]) == 0
    said = capsys.readouterr()
    record = json.loads(said.out)
    SCHEMA.validate(record)
    assert said.out == (desk / "lesson" / name / "reader.json").read_text()
    assert record["score"]["points"] == record["score"]["of"]
    assert (record["student"], record["notice"], record["about"]) == (
        "S-04", RESEARCH_ONLY, INVENTED,
    )  # fmt: skip
    assert 'trust: got "99"; allowed: 1 to 3. Give the number of one answer.' in said.err
    assert all(f"{thing}: " in said.err for thing in THINGS)
    assert RESEARCH_ONLY in (desk / "lesson" / name / "result.html").read_text()
    assert checked(desk / "lesson" / name / "reader.json", capsys)["student"] == "S-04"
    for exam in (desk / "lesson" / name).glob("exams-*/visit-*"):
        assert not verify(exam).problems


def test_running_an_exam(desk, monkeypatch, capsys):
    room = bundled("case-12")
    acts = ideal_acts(room)
    step = next_step(outcome(room.truth, room.play(acts)))
    lines = [f"{act.do} {act.what}{act.count or ''}".strip() for act in acts]
    words = ["case-12", "--text", "--as", "operator", "--out", "lesson"]
    assert typed(monkeypatch, words, ["fly", "help", "check cover", *lines, f"next {step}"]) == 0
    said = capsys.readouterr()
    assert "the patch lies beside the eye" in said.err
    assert 'act: got "fly"; allowed: check, mend' in said.err
    assert said.out.count("truth:") == 4
    assert "10 of 10 points (100%)." in said.out
    assert RESEARCH_ONLY in said.out
    path = desk / "lesson" / "case-12" / "operator.json"
    record = json.loads(path.read_text())
    SCHEMA.validate(record)
    assert [act["do"] for act in record["acts"]][:2] == ["check", "mend"]
    assert record["truth"]["set_up"] == {"fault": "other_eye_open"}
    assert checked(path, capsys)["score"] == record["score"]
    record["score"]["points"] = 3.0
    path.write_text(json.dumps(record))
    assert not checked(path, capsys)["as_recorded"]


def test_a_class_shares_case_and_seed(desk):
    (desk / "mine.toml").write_text(CASE)
    sessions = [new_session(load_case("mine.toml"), "reader", out, seed=seed)
                for out, seed in (("a", 3), ("b", 3), ("c", 4))]  # fmt: skip
    one, two, other = (
        (session.result_folders()[-1] / "journal.jsonl").read_bytes() for session in sessions
    )
    assert one == two != other


def test_a_dialogue_that_breaks_off_leaves_no_record(desk, monkeypatch, capsys):
    assert typed(monkeypatch, ["case-01", "--text", "--out", "o"], ["1", "1"]) == 130
    assert not (desk / "o" / "case-01" / "reader.json").exists()


def test_a_protocol_beside_the_case_is_found(desk, monkeypatch, capsys):
    from protocols.library import load_protocol

    folder = desk / "lesson"
    folder.mkdir()
    (folder / "own.toml").write_text(load_protocol("screen-17").text)
    (folder / "mine.toml").write_text(CASE + 'protocol = "own.toml"\n')
    words = ["lesson/mine.toml", "--text", "--as", "operator", "--out", "o"]
    assert typed(monkeypatch, words, ["run", "run", "next keep"]) == 0
    assert "17 of 17 places" in capsys.readouterr().err
