"""Formats by number: schemas shipped, older files read by steps, files from the future refused."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import msgspec
import pytest
from records import record

from analysis.grade import grade_folder
from analysis.load import load_exam
from analysis.reference import load_reference
from analysis.result_file import read_result
from calibration.certificate import FORMAT, read_certificate
from protocols import __version__
from protocols.errors import InputError
from protocols.files import sha256_hex, tomllib
from protocols.journal import HEAD, JOURNAL
from protocols.library import bundled_observer, load_protocol
from protocols.migrate import FORMATS, Format, current
from protocols.observer import load_observer
from protocols.verify import verify
from stimulus.cli import run
from stimulus.schemas import HERE, MAKERS, schema_text, shipped
from stimulus.unfinished import load_record


@pytest.mark.parametrize("kind", MAKERS)
def test_the_shipped_schema_is_that_of_the_types(kind):
    """If this fails, a format has changed. If old files still fit, write the file anew with
    ripplefield schema; if not, give the format a new number and a step in protocols.migrate."""
    assert shipped(kind).read_text() == schema_text(kind)


@pytest.mark.parametrize("kind", MAKERS)
def test_the_command_prints_the_shipped_schema(kind, capsys):
    assert run(["schema", kind]) == 0
    assert capsys.readouterr().out == shipped(kind).read_text()


@pytest.mark.parametrize("kind", MAKERS)
def test_schemas_of_all_numbers_there_were_are_shipped(kind):
    numbers = {int(re.sub(r"\D", "", path.stem)) for path in HERE.glob(f"{kind}-*.json")}
    assert numbers == set(range(FORMATS[kind].oldest, current(kind) + 1))


def test_the_certificates_own_number_is_the_tables():
    assert current("certificate") == FORMAT


@pytest.fixture
def exam(tmp_path: Path) -> Path:
    record(tmp_path / "e")
    grade_folder(tmp_path / "e")
    return tmp_path / "e"


def said(read, *what) -> str:
    with pytest.raises(InputError) as error:
        read(*what)
    return str(error.value)


def rewritten(exam: Path, change) -> list[dict]:
    """A journal with each line changed, and chained anew: as another version would write it."""
    prev, lines = "0" * 64, []
    for text in (exam / JOURNAL).read_bytes().splitlines():
        line = change(json.loads(text)) | {"prev": prev}
        lines.append(json.dumps(line, separators=(",", ":"), ensure_ascii=False).encode())
        prev = sha256_hex(lines[-1])
    (exam / JOURNAL).write_bytes(b"\n".join(lines) + b"\n")
    head = {"n": len(lines) - 1, "sha256": prev}
    (exam / HEAD).write_text(json.dumps(head, separators=(",", ":")) + "\n")
    return [json.loads(text) for text in lines]


def of_the_future(line: dict) -> dict:
    """Another number, another version, and a first line that nobody here can read."""
    if line["kind"] != "opened":
        return line | {"kind": f"new {line['kind']}"}
    return line | {"data": {"format": 2, "versions": {"ripplefield": "9.0.0"}, "who": 1}}


NEWER = f"It was made by a newer version, 9.0.0; this is {__version__}: use that one."


@pytest.mark.parametrize("read", [verify, load_exam, load_record, grade_folder])
def test_a_journal_from_the_future(exam, read):
    rewritten(exam, of_the_future)
    text = said(read, exam).replace(", line 1, format", ", format")
    assert text == f"e/{JOURNAL}, format: got 2; allowed: up to 1. {NEWER}"


@pytest.mark.parametrize("command", ["verify", "grade"])
def test_a_journal_from_the_future_on_the_command_line(exam, command, capsys):
    rewritten(exam, of_the_future)
    before = sorted(path.read_bytes() for path in exam.iterdir())
    assert run([command, str(exam)]) == 2
    error = capsys.readouterr().err
    assert error.endswith(f"format: got 2; allowed: up to 1. {NEWER}\n")
    assert sorted(path.read_bytes() for path in exam.iterdir()) == before


def test_a_result_from_the_future(exam):
    path = exam / "result.json"
    data = json.loads(path.read_text())
    path.write_text(json.dumps(data | {"format": 3, "versions": {"ripplefield": "9.0.0"}}))
    assert said(read_result, exam) == f"e/result.json, format: got 3; allowed: up to 1. {NEWER}"


USE = "It was made by a newer version: use that one."
FUTURE_TOML = 'format = 7\nname = "x"\ncolour = 1\n'


@pytest.mark.parametrize("read", [lambda p: load_protocol(str(p)), load_observer, load_reference])
def test_other_files_from_the_future(tmp_path, read):
    path = tmp_path / "future.toml"
    path.write_text(FUTURE_TOML)
    assert said(read, path) == f"future.toml, format: got 7; allowed: up to 1. {USE}"


def test_a_pattern_from_the_future(tmp_path):
    text = load_protocol("screen-19").text
    name = tomllib.loads(text)["pattern"]
    (tmp_path / "ours.toml").write_text(text.replace(f'pattern = "{name}"', 'pattern = "p.toml"'))
    (tmp_path / "p.toml").write_text(FUTURE_TOML)
    path = tmp_path / "ours.toml"
    assert said(load_protocol, str(path)) == f"p.toml, format: got 7; allowed: up to 1. {USE}"


def test_a_number_below_the_oldest(tmp_path):
    path = tmp_path / "old.toml"
    path.write_text(bundled_observer("healthy").read_text().replace("format = 1", "format = 0"))
    assert said(load_observer, path) == (
        "old.toml, format: got 0; allowed: 1 to 1. No version made it; check where it comes from."
    )


# An invented format 0, read by the same table and the same readers as any real one would be.


def with_steps(monkeypatch, kind, *steps):
    """Give a format earlier numbers: the last step leads to today's."""
    known = FORMATS[kind]
    first = known.current - len(steps)
    table = dict(enumerate(steps, start=first))
    monkeypatch.setitem(FORMATS, kind, Format(known.current, table, known.otherwise))


def to_zero(line: dict) -> dict:
    """As format 0 might have been: another kind's name, another key, age in months."""
    if line["kind"] == "opened":
        data = dict(line["data"]) | {"format": 0}
        data["age_months"] = 12 * data.pop("age_years")
        return line | {"data": data}
    return line | {"kind": "shown"} if line["kind"] == "presented" else line


def from_zero(line: dict) -> dict:
    data = dict(line["data"])
    if line["kind"] == "opened":
        data["age_years"] = data.pop("age_months") // 12
    return {"kind": "presented" if line["kind"] == "shown" else line["kind"], "data": data}


def test_an_older_journal_is_read_graded_and_verified(exam, monkeypatch):
    today = load_exam(exam)
    result = read_result(exam)
    rewritten(exam, to_zero)
    assert "got 0; allowed: 1 to 1" in said(load_exam, exam)
    with_steps(monkeypatch, "journal", from_zero)
    old = load_exam(exam)
    assert [e.event for e in old.entries[1:]] == [e.event for e in today.entries[1:]]
    assert old.opened.age_years == today.opened.age_years
    assert verify(exam).sound
    assert grade_folder(exam).eyes == result.eyes


def test_an_older_journal_that_was_changed_is_found(exam, monkeypatch):
    rewritten(exam, to_zero)
    with_steps(monkeypatch, "journal", from_zero)
    content = bytearray((exam / JOURNAL).read_bytes())
    content[-200] ^= 1
    (exam / JOURNAL).write_bytes(content)
    assert not verify(exam).sound


def test_an_older_journal_is_not_gone_on_with(exam, monkeypatch):
    """Lines of two formats in one journal would be read by nobody."""
    lines = rewritten(exam, to_zero)
    with_steps(monkeypatch, "journal", from_zero)
    text = (exam / JOURNAL).read_bytes().splitlines(keepends=True)
    (exam / JOURNAL).write_bytes(b"".join(text[:-1]))
    head = {"n": len(lines) - 2, "sha256": sha256_hex(text[-2][:-1])}
    (exam / HEAD).write_text(json.dumps(head, separators=(",", ":")) + "\n")
    assert said(load_record, exam) == (
        '--resume: got "a journal of format 0"; allowed: format 1, which this version writes. '
        "It can be read and graded, not gone on with; start a new exam."
    )


def test_steps_are_taken_in_turn(tmp_path, monkeypatch):
    """Two numbers back: the first step's result is the second's input."""
    text = bundled_observer("healthy").read_text()
    oldest = text.replace("format = 1", "format = -1").replace("about", "says", 1)
    path = tmp_path / "old.toml"
    path.write_text(oldest)

    def renamed(old, new):
        return lambda data: {new if key == old else key: value for key, value in data.items()}

    with_steps(monkeypatch, "observer", renamed("says", "words"), renamed("words", "about"))
    assert load_observer(path) == load_observer(bundled_observer("healthy"))
    assert path.read_text() == oldest


def test_an_older_result(exam, monkeypatch):
    path = exam / "result.json"
    today = read_result(exam)
    data = json.loads(path.read_text())
    data["remarks"] = data.pop("advice")
    path.write_text(json.dumps(data | {"format": 0}))

    def step(old):
        return {"advice" if key == "remarks" else key: value for key, value in old.items()}

    with_steps(monkeypatch, "result", step)
    assert read_result(exam) == today


def as_written(data: dict) -> bytes:
    """A certificate as its file holds it."""
    return msgspec.json.format(msgspec.json.encode(data), indent=1) + b"\n"


def test_an_older_certificate_keeps_its_seal(tmp_path, monkeypatch):
    """The seal is over the file as it was made, not as it is read."""
    path = tmp_path / "c.json"
    assert run(["calibrate", "all", "--photometer", "simulated:office", "--out", str(path)]) == 0
    today = read_certificate(path)
    data = json.loads(path.read_text())
    data["made"] = data.pop("made_utc")
    data |= {"format": 0, "sha256": ""}
    data["sha256"] = sha256_hex(as_written(data))
    path.write_bytes(as_written(data))

    def step(old):
        return {"made_utc" if key == "made" else key: value for key, value in old.items()}

    with_steps(monkeypatch, "certificate", step)
    old = read_certificate(path)
    assert old.made_utc == today.made_utc
    assert old.sha256 == data["sha256"] != today.sha256
    shutil.copy(path, tmp_path / "changed.json")
    changed = (tmp_path / "changed.json").read_text().replace('"command": "', '"command": "x')
    (tmp_path / "changed.json").write_text(changed)
    assert "that of its content" in said(read_certificate, tmp_path / "changed.json")
