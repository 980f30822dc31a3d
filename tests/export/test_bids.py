"""BIDS: the validator itself, and the way back with pandas alone.

Outside truths: bids-validator-deno, the project's own validator, offline; BIDS 1.11.1.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from export_rigs import both, in_a_window, of_person, recast, said

from analysis.export.bids.columns import COLUMNS
from analysis.export.bids.write import export_bids
from analysis.export.fhir.write import export_fhir
from protocols import RESEARCH_ONLY
from stimulus.station.corrections import correct

VALIDATOR = Path(sys.executable).with_name("bids-validator-deno")
PEOPLE, VISITS = 50, 2


def quiet(done: int, total: int) -> None:
    """No bar."""


def validate(dataset: Path) -> tuple[int, str]:
    """The validator's exit code (0 valid, 16 not) and what it says of errors."""
    done = subprocess.run(
        [str(VALIDATOR), "--ignoreWarnings", str(dataset)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def study(originals: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Fifty participants, two visits each: one exam at the first, two or three at the second."""
    folder, exams, kinds = tmp_path_factory.mktemp("study"), [], sorted(originals)
    for person in range(PEOPLE):
        age = 20 + person * 69 // 49
        for turn, day in enumerate((0.0, 90.0, 90.02, 90.04)[: 3 + person % 2]):
            kind = originals[kinds[(person + turn // 2) % len(kinds)]]
            change = of_person(f"P-{person:03}", day + 0.001 * person, age_years=age)
            if person % 3 == 0:
                change = both(change, in_a_window)
            exams.append(recast(kind, folder / f"exam-{person}-{turn}", change))
    return exams


@pytest.fixture(scope="module")
def dataset(study: list[Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("bids") / "dataset"
    assert export_bids(study, out, quiet) == PEOPLE
    return out


def test_the_validator_says_valid(dataset: Path):
    code, said = validate(dataset)
    print(said)
    assert code == 0, said
    assert "BIDS compatible" in said
    assert f"{PEOPLE} - Subjects {VISITS} - Sessions" in " ".join(said.split())


def test_the_validator_would_say_otherwise(dataset: Path, tmp_path: Path):
    """A dataset of one participant is spoilt; exit code 16 is the validator's "not valid"."""
    copy = tmp_path / "copy"
    shutil.copytree(dataset, copy)
    table = next(copy.rglob("*_events.tsv"))
    table.write_text(table.read_text().replace("onset", "begin", 1))
    assert validate(copy)[0] == 16


def table(path: Path) -> pd.DataFrame:
    """As the README says, pandas alone."""
    return pd.read_csv(path, sep="\t", na_values="n/a")


def told(path: Path) -> dict[str, Any]:
    return json.loads(path.with_suffix(".json").read_text())


SAME = {"onset": "onset_s", "trial_type": "role"}
ANSWER = {
    "response_time": "response_time_s",
    "corrected_response_time": "corrected_response_time_s",
    "presses": "presses_s",
    "answer_spoiled": "spoiled",
    "verdict": "verdict",
    "press_s": "press_s",
}


def journal_trials(folder: Path) -> list[dict[str, Any]]:
    """Presentations with their answers straight from the journal's lines."""
    lines = map(json.loads, (folder / "journal.jsonl").read_text().splitlines())
    trials: list[dict[str, Any]] = []
    for line in lines:
        if line["kind"] == "presented":
            trials.append({"shown": line["data"], "answer": None})
        elif line["kind"] == "answered":
            trials[-1]["answer"] = line["data"]
    return trials


def expected(column: str, trial: dict[str, Any]) -> Any:
    if column in ANSWER:
        return None if trial["answer"] is None else trial["answer"][ANSWER[column]]
    return trial["shown"][SAME.get(column, column)]


def same(read: Any, wanted: Any) -> bool:
    if wanted is None or wanted == []:
        return bool(pd.isna(read))
    if isinstance(wanted, list):
        return [float(one) for one in str(read).split()] == wanted
    return bool(read == wanted)


def test_back_with_pandas_alone_the_trials_are_the_journals(dataset: Path, study: list[Path]):
    by_hash = {
        hashlib.sha256((exam / "journal.jsonl").read_bytes()).hexdigest(): exam for exam in study
    }
    tables = sorted(dataset.rglob("*_events.tsv"))
    assert len(tables) == len(study)
    compared = 0
    for path in tables:
        trials = journal_trials(by_hash[told(path)["JournalSHA256"]])
        rows = table(path).to_dict("records")
        assert len(rows) == len(trials) > 0
        for row, trial in zip(rows, trials, strict=True):
            wrong = [c for c in row if c != "duration" and not same(row[c], expected(c, trial))]
            assert not wrong, (path.name, trial["shown"]["index"], wrong)
            compared += len(row)
    assert compared > 100_000


def test_every_field_of_a_trial_is_a_column(originals: dict[str, Path]):
    trial = journal_trials(originals["screen"])[5]
    of_shown = {SAME.get(c.name, c.name) for c in COLUMNS if c.name not in ANSWER}
    assert set(trial["shown"]) <= of_shown
    assert set(trial["answer"]) - {"index"} == set(ANSWER.values())


def test_every_column_is_documented(dataset: Path):
    for path in sorted(dataset.rglob("*_events.tsv"))[:5]:
        frame, words = table(path), told(path)
        assert list(frame.columns[:4]) == ["onset", "duration", "trial_type", "response_time"]
        for column in frame.columns:
            assert words[column]["Description"]
            levels = words[column].get("Levels")
            if levels:
                assert set(frame[column].dropna().astype(str).str.lower()) <= set(levels)
        numbers = {c for c in frame if c.endswith(("_deg", "_s", "_db", "_hz", "_sr", "_m2"))}
        assert all(words[c]["Units"] for c in numbers)


def test_duration_is_the_frames_shown(dataset: Path):
    path = next(dataset.rglob("*_events.tsv"))
    frame = table(path)
    refresh_hz = told(path)["Display"]["Refresh_Hz"]
    assert (frame["duration"] == frame["frames_shown"] / refresh_hz).all()


def test_sidecars_name_the_program_that_showed_it(dataset: Path):
    found = [told(path) for path in dataset.rglob("*_events.tsv")]
    shown = [one["StimulusPresentation"] for one in found if not one["Simulated"]]
    virtual = [one["StimulusPresentation"] for one in found if one["Simulated"]]
    assert shown
    assert virtual
    assert {one["SoftwareName"] for one in shown} == {"PsychoPy"}
    assert {one["SoftwareRRID"] for one in shown} == {"RRID:SCR_006571"}
    assert not any("SoftwareRRID" in one for one in virtual)
    for one in [*shown, *virtual]:
        assert all(one[key] for key in ("OperatingSystem", "SoftwareVersion", "Code"))


def test_the_top_of_a_dataset(dataset: Path):
    about = json.loads((dataset / "dataset_description.json").read_text())
    assert about["BIDSVersion"] == "1.11.1"
    assert about["GeneratedBy"][0]["Name"] == "Ripplefield"
    assert RESEARCH_ONLY in about["GeneratedBy"][0]["Description"]
    assert RESEARCH_ONLY in (dataset / "README.md").read_text()
    people = pd.read_csv(dataset / "participants.tsv", sep="\t", dtype=str)
    assert people.columns[0] == "participant_id"
    assert len(people) == PEOPLE
    assert set(people["age"]) >= {"20", "89"}
    assert pd.to_numeric(people["age"]).max() <= 89
    described = json.loads((dataset / "participants.json").read_text())
    assert set(people.columns) == {"participant_id", *described}


def test_nobody_is_told_to_be_over_89(originals: dict[str, Path], tmp_path: Path):
    """Ages over 89 single people out (HIPAA safe harbour, 45 CFR 164.514(b)(2)(i)(C))."""
    ages = {"P-1": 89, "P-2": 90, "P-3": 104}
    exams = [
        recast(originals["screen"], tmp_path / code, of_person(code, age_years=age))
        for code, age in ages.items()
    ]
    export_bids(exams, tmp_path / "out", quiet)
    people = pd.read_csv(tmp_path / "out" / "participants.tsv", sep="\t", dtype=str)
    assert list(people["age"]) == ["89", "89+", "89+"]
    assert validate(tmp_path / "out")[0] == 0
    text = "".join(path.read_text() for path in (tmp_path / "out").rglob("*.*s*"))
    assert "104" not in [word for line in text.splitlines() for word in line.split("\t")]


def test_sessions_and_runs(originals: dict[str, Path], tmp_path: Path):
    """Half a day apart is another session, whatever the date; the same task again another run."""
    days = {"a": 0.0, "b": 0.3, "c": 0.65, "d": 5.0}
    exams = [
        recast(originals["happy"], tmp_path / name, of_person("P-1", day))
        for name, day in days.items()
    ]
    exams.append(recast(originals["bayes"], tmp_path / "e", of_person("P-1", 5.1)))
    export_bids(exams[::-1], tmp_path / "out", quiet)
    found = sorted(path.name for path in (tmp_path / "out").rglob("*_events.tsv"))
    assert found == [
        "sub-P1_ses-01_task-screen19_run-1_events.tsv",
        "sub-P1_ses-01_task-screen19_run-2_events.tsv",
        "sub-P1_ses-01_task-screen19_run-3_events.tsv",
        "sub-P1_ses-02_task-bayes19_run-1_events.tsv",
        "sub-P1_ses-02_task-screen19_run-1_events.tsv",
    ]
    scans = table(tmp_path / "out" / "sub-P1" / "ses-01" / "sub-P1_ses-01_scans.tsv")
    assert list(scans["acq_time"].str[:10]) == ["2030-01-02", "2030-01-02", "2030-01-03"]


def test_a_corrected_code_is_the_participants(originals: dict[str, Path], tmp_path: Path):
    """An exam entered under a wrong code belongs to the person whose code it is in truth."""
    wrong = recast(originals["happy"], tmp_path / "a", of_person("P-1"))
    correct(wrong, "code", "P-2", "AB")
    other = recast(originals["screen"], tmp_path / "b", of_person("P-2", 30))
    export_bids([wrong, other], tmp_path / "bids", quiet)
    [person] = table(tmp_path / "bids" / "participants.tsv").to_dict("records")
    assert (person["participant_id"], person["participant_code"]) == ("sub-P2", "P-2")
    assert person["exams"] == 2
    export_fhir([wrong, other], tmp_path / "fhir", quiet)
    names = sorted(path.name for path in (tmp_path / "fhir").iterdir())
    assert names == ["P-2_1_right.json", "P-2_2_left.json", "P-2_2_right.json"]


def test_holds_and_cut_short_trials_are_told(originals: dict[str, Path], tmp_path: Path):
    def held(lines):
        shown = [k for k, line in enumerate(lines) if line["kind"] == "presented"][4]
        line = lines[shown]
        why = {"reason": "by Nomen Nescio", "abandoned_index": line["data"]["index"]}
        hold = line | {"kind": "held", "data": why}
        go_on = line | {"kind": "resumed", "data": {"after": "hold", "set_aside": None}}
        return [*lines[: shown + 1], hold, go_on, *lines[shown:]]

    exam = recast(originals["happy"], tmp_path / "exam", held)
    export_bids([exam], tmp_path / "out", quiet)
    path = next((tmp_path / "out").rglob("*_events.tsv"))
    cut = table(path).iloc[4]
    assert pd.isna(cut["verdict"])
    assert cut["index"] == table(path).iloc[5]["index"]
    assert [one["kind"] for one in told(path)["Interruptions"]] == ["held", "resumed"]
    assert "Nescio" not in path.with_suffix(".json").read_text()
    assert validate(tmp_path / "out")[0] == 0


def test_the_same_exams_give_the_same_bytes(originals: dict[str, Path], tmp_path: Path):
    other = recast(originals["bayes"], tmp_path / "x", said("opened", participant="P-2"))
    exams = [originals["screen"], other]
    for name, order in (("one", exams), ("two", exams[::-1])):
        export_bids(order, tmp_path / name, quiet)
    files = [path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*.*")]
    assert len(files) > 8
    for path in files:
        one, two = tmp_path / "one" / path, tmp_path / "two" / path
        assert one.is_dir() or one.read_bytes() == two.read_bytes(), path
