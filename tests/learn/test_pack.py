"""The bundled pack: every case is fair, and is what the script that made it makes."""

from __future__ import annotations

import pytest
from case_rigs import BUNDLED, bundled
from jsonschema import Draft202012Validator
from make_cases import HEAD, PACK, case_text, unfair

from protocols.cases.file import LIBRARY, case_schema
from protocols.cases.habits import REMEDY
from protocols.cases.setups import THING_OF
from protocols.files import tomllib
from protocols.population.draw import SHAPES

VALIDATOR = Draft202012Validator(case_schema())


@pytest.mark.parametrize("name", BUNDLED)
def test_a_reader_could_find_what_is_hidden(name, tmp_path):
    assert unfair(bundled(name), tmp_path / "exams") == ""


@pytest.mark.parametrize("name", BUNDLED)
def test_the_file_is_the_scripts_and_fits_the_schema(name):
    text = (LIBRARY / f"{name}.toml").read_text()
    found = tomllib.loads(text)
    assert text == case_text(int(name[-2:]), found["seed"])
    assert text.startswith(HEAD)
    assert "Nobody was measured" in HEAD
    VALIDATOR.validate(found)


def test_the_pack_has_every_shape_habit_and_fault():
    files = [bundled(name).case.file for name in BUNDLED]
    shapes = {file.truth(eye).shape for file in files for eye in ("right", "left")}
    assert shapes == set(SHAPES)
    rest = "".join(text for *_, text in PACK)
    assert all(f'habit = "{name}"' in rest for name in REMEDY)
    assert all(f'fault = "{name}"' in rest for name in THING_OF)


def test_about_gives_nothing_away():
    words = {word for *_, rest in PACK for word in rest.replace('"', " ").replace("_", " ").split()}
    for name in BUNDLED:
        about = bundled(name).case.file.about.lower()
        assert not {w for w in words if w.isalpha() and len(w) > 5 and w in about}, about
