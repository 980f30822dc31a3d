"""`--json` prints one JSON value with documented keys and nothing else."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from command_desk import FILES, say
from spoilt_records import make_records

from protocols import RESEARCH_ONLY
from stimulus.cli import run


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("json")
    make_records(made)
    for name, text in FILES.items():
        (made / name).write_text(text)
    return made


@pytest.fixture(autouse=True)
def there(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)


def printed(words: list[str], capsys: pytest.CaptureFixture[str], code: int = 0) -> Any:
    said = say(words, capsys)
    assert (said.code, said.errors) == (code, "")
    return json.loads(said.output)


def schema(kind: str, capsys: pytest.CaptureFixture[str]) -> Any:
    return printed(["schema", kind], capsys)


def test_protocols(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["protocols", "--json"], capsys)
    keys = {"name", "about", "pattern", "places", "sha256", "notice"}
    assert all(set(one) == keys for one in found)
    places = {one["name"]: one["places"] for one in found}
    assert (places["screen-17"], places["screen-19"]) == (17, 19)
    assert {one["notice"] for one in found} == {RESEARCH_ONLY}


@pytest.mark.parametrize("protocol", ["screen-17", "protocol.toml"])
def test_protocols_show(protocol: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["protocols", "show", protocol, "--json"], capsys)
    assert {"name", "about", "pattern", "places", "sha256", "notice", "settings"} <= set(found)
    assert set(found["implied"]) == {"fewest", "most", "shortest_s", "longest_s"}
    assert len(found["places_deg"]) == found["places"]
    jsonschema.validate(found["settings"], schema("protocol", capsys))
    assert found["settings"]["stimulus"]["duration_s"] == 0.6  # a default, written out


def test_grade_one_exam(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["grade", "finished", "--json"], capsys)
    assert found == json.loads((folder / "finished" / "result.json").read_text())
    jsonschema.validate(found, schema("result", capsys))
    assert found["notice"] == RESEARCH_ONLY
    eye = found["eyes"]["right"]
    place_keys = ["x_deg", "y_deg", "grade", "estimate_db", "interval_db", "tries", "seen"]
    assert all(set(place_keys) <= set(place) for place in eye["places"])
    assert set(eye["reliability"]) >= {"fixation", "false_positive", "false_negative"}
    for kind in ("fixation", "false_positive", "false_negative"):
        rate = eye["reliability"][kind]
        assert set(rate) >= {"shown", "wrong", "rate", "interval"}


def test_grade_several_exams_is_a_list(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["grade", "finished", "begun", "--json"], capsys)
    assert [one["exam"]["finished"] for one in found] == [True, False]


def test_verify(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["verify", "finished", "--json"], capsys)
    [one] = found
    assert set(one) == {
        "folder", "lines", "torn_bytes", "unconfirmed", "closed", "problems", "notes", "sound",
    }  # fmt: skip
    assert (one["folder"], one["sound"], one["closed"]) == ("finished", True, True)
    assert one["problems"] == []


def test_verify_of_a_changed_record(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["verify", "finished", "changed", "--json"], capsys, code=1)
    assert [one["sound"] for one in found] == [True, False]
    assert found[1]["problems"] == [
        "line 7 does not follow line 6: a line was changed, lost or moved"
    ]


SUPPORT_KEYS = {
    "notice", "sha256", "display", "lapses_utc", "lapsed", "missing", "lowest_contrast",
    "greatest_contrast", "refresh_hz", "display_locked", "notes",
}  # fmt: skip


@pytest.fixture(scope="module")
def certificate(folder: Path) -> Any:
    """The certificate of a bundled simulated display, as its file has it."""
    path = folder / "screen.json"
    words = ["calibrate", "all", "--photometer", "simulated:slow-panel", "--out", str(path)]
    assert run(words) == 0
    return json.loads(path.read_text())


def test_certify(certificate: Any, capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(["certify", "screen.json", "--json"], capsys)
    assert set(found) == SUPPORT_KEYS
    assert (found["notice"], found["missing"], found["lapsed"]) == (RESEARCH_ONLY, [], False)
    assert found["sha256"] == certificate["sha256"]
    assert found["lowest_contrast"] == certificate["contrast_range"]["lowest_contrast"]
    assert found["refresh_hz"] == certificate["timing"]["refresh_hz"]["value"]
    assert found["notes"] == certificate["flicker"]["notes"] != []


def test_certify_what_has_only_timing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["calibrate", "timing", "--photometer", "simulated:office", "--out", "timing.json"]
    assert say(words, capsys).code == 0
    found = printed(["certify", "timing.json", "--json"], capsys)
    assert set(found) == SUPPORT_KEYS
    assert found["missing"] == [
        "geometry", "gamma", "contrast range", "flicker", "latency", "uniformity", "flash",
    ]  # fmt: skip
    assert (found["lowest_contrast"], found["greatest_contrast"]) == (None, None)


def test_a_certificate_is_what_the_schema_says(
    certificate: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    check = jsonschema.Draft202012Validator(schema("certificate", capsys))
    check.validate(certificate)
    assert certificate["uniformity"]["contrast"]["worst_share"] > 0.99
    for wrong in (
        {**certificate, "colour": 1},
        {**certificate, "format": "one"},
        {**certificate, "gamma": {**certificate["gamma"], "bits": "eight"}},
        {key: value for key, value in certificate.items() if key != "identity"},
    ):
        assert not check.is_valid(wrong)


def test_journal_lines_are_what_the_schema_says(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check = jsonschema.Draft202012Validator(schema("journal", capsys))
    lines = (folder / "finished" / "journal.jsonl").read_text().splitlines()
    assert len(lines) > 10
    for line in lines:
        check.validate(json.loads(line))
