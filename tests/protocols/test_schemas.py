"""The published JSON Schemas hold for what the program itself reads and writes (2020-12)."""

from __future__ import annotations

import copy
import json

import pytest
from jsonschema import Draft202012Validator
from records import record

from analysis.grade import grade_folder
from analysis.result import result_schema
from protocols.events import journal_schema
from protocols.files import tomllib
from protocols.journal import JOURNAL
from protocols.library import bundled_protocols, load_protocol
from protocols.protocol import protocol_schema

SCHEMAS = {"protocol": protocol_schema, "journal": journal_schema, "result": result_schema}
VALIDATORS = {name: Draft202012Validator(make()) for name, make in SCHEMAS.items()}


@pytest.fixture(scope="module", params=["healthy", "trigger-happy"])
def folder(request, tmp_path_factory):
    """A graded record of both eyes, with practice and advice."""
    found = tmp_path_factory.mktemp("graded") / "e"
    record(found, request.param, eyes=("right", "left"), practice=True)
    grade_folder(found)
    return found


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_schema_itself_is_sound(name):
    schema = SCHEMAS[name]()
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"].startswith("Ripplefield")


@pytest.mark.parametrize("name", bundled_protocols())
def test_bundled_protocols_fit_their_schema(name):
    VALIDATORS["protocol"].validate(tomllib.loads(load_protocol(name).text))


def test_every_journal_line_fits_its_schema(folder):
    for line in (folder / JOURNAL).read_text().splitlines():
        VALIDATORS["journal"].validate(json.loads(line))


def test_results_fit_their_schema(folder):
    VALIDATORS["result"].validate(json.loads((folder / "result.json").read_bytes()))


BAD_PROTOCOLS = [
    ("stimulus", "flicker_hertz", 20.0),
    ("stimulus", "flicker_hz", 200.0),
    ("stimulus", "flicker_hz", "20 Hz"),
    ("procedure", "tries", 4),
    ("procedure", "kind", "falling"),
    ("catch_trials", "blank", -1),
]


@pytest.mark.parametrize(("table", "key", "value"), BAD_PROTOCOLS)
def test_the_protocol_schema_refuses_what_the_reader_refuses(table, key, value):
    data = tomllib.loads(load_protocol("screen-19").text)
    data[table][key] = value
    assert not VALIDATORS["protocol"].is_valid(data)


def _line(folder, kind):
    lines = map(json.loads, (folder / JOURNAL).read_text().splitlines())
    return next(line for line in lines if line["kind"] == kind)


@pytest.mark.parametrize(
    ("kind", "path", "value"),
    [
        ("answered", ("data", "verdict"), "perhaps"),
        ("presented", ("data", "role"), "elsewhere"),
        ("presented", ("data", "index"), "one"),
        ("presented", ("prev",), "short"),
        ("presented", ("kind",), "shown"),
        ("opened", ("n",), -1),
    ],
)
def test_the_journal_schema_refuses_wrong_lines(folder, kind, path, value):
    line = copy.deepcopy(_line(folder, kind))
    inner = line if len(path) == 1 else line[path[0]]
    inner[path[-1]] = value
    assert not VALIDATORS["journal"].is_valid(line)


@pytest.mark.parametrize("key", ["eyes", "notice", "journal_sha256", "reference", "safety"])
def test_the_result_schema_misses_what_is_left_out(folder, key):
    result = json.loads((folder / "result.json").read_bytes())
    del result[key]
    assert not VALIDATORS["result"].is_valid(result)


def test_results_have_the_contracts_keys(folder):
    result = json.loads((folder / "result.json").read_bytes())
    assert set(result["eyes"]) == {"right", "left"}
    for eye in result["eyes"].values():
        for place in eye["places"]:
            assert {"x_deg", "y_deg", "grade", "estimate_db", "tries", "seen"} <= set(place)
            assert len(place["interval_db"]) == 2
        for kind in ("fixation", "false_positive", "false_negative"):
            assert {"shown", "wrong", "rate", "interval"} == set(eye["reliability"][kind])
