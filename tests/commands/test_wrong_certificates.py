"""Wrong lines about certificates: one clear line, exit code 2, nothing made, changed or torn."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from command_desk import CODE_OF_WRONG_INPUT, Case, all_files, say
from wrong_certificates import CASES, LAPSED_UTC, make_certificates, seals

from protocols import RESEARCH_ONLY


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("certificates")
    make_certificates(folder)
    (folder / "folder").mkdir()
    return folder


@pytest.fixture
def desk(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder commands run in: a good certificate and spoilt ones. No display."""
    folder = tmp_path / "desk"
    shutil.copytree(made, folder)
    monkeypatch.chdir(folder)
    monkeypatch.delenv("DISPLAY", raising=False)
    return folder


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_one_clear_line(case: Case, desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, text in case.files.items():
        (desk / name).write_text(text)
    error = case.error
    for word, seal in seals(desk).items():
        error = error.replace(word, seal)
    before = all_files(desk)
    said = say(case.words, capsys)
    assert said.errors.splitlines()[-1] == f"error: {error}"
    assert (said.code, said.output) == (CODE_OF_WRONG_INPUT, "")
    assert all_files(desk) == before


def test_a_lapsed_one_is_explained_and_bad(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = say(["certify", "lapsed.json"], capsys)
    assert (said.code, said.errors) == (1, "")
    assert said.output.endswith(f"{RESEARCH_ONLY}\nLAPSED: calibrate again.\n")
    assert f"lapses {LAPSED_UTC}" in said.output
    said = say(["certify", "lapsed.json", "--json"], capsys)
    assert (said.code, json.loads(said.output)["lapsed"]) == (1, True)


def test_a_good_one_is_explained_and_good(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = say(["certify", "good.json"], capsys)
    assert (said.code, said.errors) == (0, "")
    assert said.output.endswith(f"{RESEARCH_ONLY}\nvalid\n")
    assert "not measured" not in said.output


def test_one_with_less_says_what_is_not_measured(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = say(["certify", "part.json"], capsys).output.splitlines()
    absent = [line.split("not measured")[0].strip() for line in lines if "not measured" in line]
    assert absent == ["gamma", "contrast range"]


def test_a_measurement_that_is_refused_leaves_the_certificate_as_it_was(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The uneven display grown worse: its corners are darker than the stated limit."""
    worse = 'about = "worse"\ncorner_drop = 0.8\n'
    (desk / "worse.toml").write_text(worse)
    words = ["calibrate", "all", "--photometer", "simulated:worse.toml", "--out", "worse.json"]
    said = say(words, capsys)
    assert said.code == CODE_OF_WRONG_INPUT
    assert said.errors.splitlines()[-1].startswith(
        "error: grid_cd_m2, share of the middle: got 0.7"
    )
    kept = json.loads((desk / "worse.json").read_text())
    assert kept["latency"] is not None
    assert kept["uniformity"] is None
    assert say(["certify", "worse.json"], capsys).code == 0
