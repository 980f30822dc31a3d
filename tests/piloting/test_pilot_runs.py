"""A small pilot end to end: what it leaves, killed and gone on with, with other crews, again."""

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
from jsonschema import Draft202012Validator
from pilot_rigs import all_bytes, piloted, write_plan
from wrong_plans import PLAN

from analysis.piloting.result import pilot_schema
from protocols import RESEARCH_ONLY
from protocols.library import load_protocol
from stimulus.cli import run

ROOT = Path(__file__).parents[2]
RUN = "import sys; from stimulus.cli import main; main(sys.argv[1:])"
PATIENCE_S = 120.0
PIECES = 9
"""Three variants; as drawn, one rate of lapses and one of false presses."""


@pytest.fixture(scope="module")
def result(pilot: Path) -> dict:
    return json.loads((pilot / "pilot.json").read_text())


def _rows(pilot: Path, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((pilot / "tables" / name).read_text().splitlines()))


def test_everything_is_there_and_nothing_else(pilot: Path, plan: Path) -> None:
    files = all_bytes(pilot)
    tables = (
        "calls",
        "costs",
        "detection",
        "errors",
        "objectives",
        "pairs",
        "repeats",
        "roc",
        "slips",
    )
    variants = ("bayes-19-end_sd_db-2.5", "bayes-19-end_sd_db-4.0", "screen-19")
    assert set(files) == {
        "pilot.json", "plan.toml", "report.html", "tables/about.json",
        *(f"tables/{name}.csv" for name in tables), *(f"variants/{name}.toml" for name in variants),
    }  # fmt: skip
    assert files["plan.toml"] == plan.read_bytes()


def test_the_result_fits_its_schema_and_says_what_it_is(result: dict) -> None:
    Draft202012Validator(pilot_schema()).validate(result)
    assert result["notice"] == RESEARCH_ONLY
    assert "simulated" in result["simulated"]
    assert result["exams"] == 3 * (120 * 2 + 100 + 100)
    assert result["origin"]["commands"] == ["ripplefield pilot plan.toml --out DIR"]
    assert set(result["origin"]["versions"]) >= {"ripplefield", "numpy"}


def test_the_tables_say_what_the_result_says(pilot: Path, result: dict) -> None:
    variants = {variant["label"]: variant for variant in result["variants"]}
    medians = {
        row["variant"]: float(row["value"])
        for row in _rows(pilot, "costs.csv")
        if (row["group"], row["quantity"], row["statistic"]) == ("with loss", "seconds", "median")
    }
    assert medians == {
        label: variant["costs"][1]["seconds"]["median"]["value"]
        for label, variant in variants.items()
    }
    depths = [row for row in _rows(pilot, "errors.csv") if row["by"] == "depth"]
    known = sum(depth["errors"] is not None for v in variants.values() for depth in v["by_depth"])
    assert len(depths) == 3 * known
    about = json.loads((pilot / "tables" / "about.json").read_text())
    assert about["notice"] == RESEARCH_ONLY
    for path in (pilot / "tables").glob("*.csv"):
        assert set(_rows(pilot, path.name)[0]) <= set(about["columns"])


def test_the_numbers_hang_together(result: dict) -> None:
    screen, sharp, rough = result["variants"]
    assert screen["costs"][0]["seconds"]["mean"]["value"] < 60
    assert (
        rough["costs"][2]["seconds"]["mean"]["value"]
        < sharp["costs"][2]["seconds"]["mean"]["value"]
    )
    for variant in result["variants"]:
        assert len(variant["by_place"]) == variant["places"] == 19
        counts = [row["errors"]["places"] for row in variant["by_place"]]
        assert sum(counts) == variant["errors"]["places"] <= 120 * 2 * 19
        shapes = variant["by_shape"]
        assert sum(row["people"] for row in shapes) == 120
        lossy = sum(row["people"] for row in shapes if row["shape"] != "healthy")
        assert lossy == result["people_with_loss"]
        found = variant["detection"]["operating"][1]
        assert found["rule"] == "whole-field test at 95 % specificity"
        assert found["specificity"]["value"] >= 0.95
        weighed = sum(
            row["people"] * row["found"]["value"] for row in shapes if row["found"] is not None
        )
        assert weighed / lossy == pytest.approx(found["sensitivity"]["value"], abs=1e-3)
        lapses = {row["habit"]: row for row in variant["slips"]}
        drawn = lapses["as drawn"]["errors"]["rms_db"]["value"]
        assert lapses["lapses"]["errors"]["rms_db"]["value"] > drawn
        assert lapses["false presses"]["errors"]["rms_db"]["value"] > drawn
        assert variant["retest"]["within_sd_db"]["value"] > 0
        calls = {call["truth"]: call for call in variant["calls"]}
        assert sum(call["places"] for call in calls.values()) == 120 * 2 * 19
        within, unseen = calls["within the limit"], calls["not seen at full contrast"]
        assert within["below"]["value"] < 0.2 < unseen["below"]["value"]
        for call in calls.values():
            assert call["right"]["value"] + call["none"]["value"] <= 1 + 1e-6


def test_each_variants_file_is_the_protocol_that_was_compared(pilot: Path, result: dict) -> None:
    for variant in result["variants"]:
        protocol = load_protocol(str(pilot / variant["file"]))
        assert (protocol.name, protocol.sha256) == (variant["label"], variant["sha256"])


def test_two_processes_give_the_same_bytes(plan: Path, pilot: Path, tmp_path: Path) -> None:
    assert all_bytes(piloted(plan, tmp_path / "two", "--workers", "2")) == all_bytes(pilot)


def test_another_seed_gives_other_numbers_and_says_so(plan: Path, pilot: Path, tmp_path) -> None:
    small = write_plan(tmp_path, PLAN.split("[robustness]")[0].replace("[2.5, 4.0]", "[4.0]")
                       + "[robustness]\nlapse_rates = []\nfalse_press_rates = []\n")  # fmt: skip
    one = json.loads((piloted(small, tmp_path / "a", "--seed", "6") / "pilot.json").read_text())
    assert one["origin"]["commands"] == ["ripplefield pilot plan.toml --out DIR --seed 6"]
    assert one["seed"] == 6
    assert one["variants"][0]["slips"] == []
    page = (tmp_path / "a" / "report.html").read_text()
    assert "Lapses and false presses" not in page
    assert not (tmp_path / "a" / "tables" / "slips.csv").exists()
    five = json.loads((piloted(small, tmp_path / "b") / "pilot.json").read_text())
    assert one["variants"][0]["errors"] != five["variants"][0]["errors"]


def _begun(plan: Path, out: Path) -> subprocess.Popen[bytes]:
    """The command in a process of its own, after its first finished piece."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, "pilot", str(plan), "--out", str(out), "--workers", "1"],
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )  # fmt: skip
    until = time.monotonic() + PATIENCE_S
    while not list(out.glob("pilot.parts/part-*")):
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < until
        time.sleep(0.01)
    return process


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_stopped_in_the_middle_the_same_command_goes_on_to_the_same_bytes(
    how: signal.Signals, plan: Path, pilot: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    process = _begun(plan, out)
    process.send_signal(how)
    _, said = process.communicate(timeout=PATIENCE_S)
    kept = {path.name: path.stat().st_mtime_ns for path in out.glob("pilot.parts/part-*")}
    assert 0 < len(kept) < PIECES
    assert not (out / "pilot.json").exists()
    if how == signal.SIGINT:
        assert process.returncode == 130
        assert f"stopped by the operator; {len(kept)} of {PIECES} pieces" in said.decode()
    seen = {}

    def watching(path: Path) -> None:
        seen.update({p.name: p.stat().st_mtime_ns for p in path.glob("part-*")})

    _go_on(plan, out, watching)
    assert {name: seen[name] for name in kept} == kept
    assert all_bytes(out) == all_bytes(pilot)


def _go_on(plan: Path, out: Path, watching) -> None:
    """The command again, looking at its pieces just before it clears them away."""
    from protocols.simulate.parts import Kept

    with pytest.MonkeyPatch.context() as patch:
        remove = Kept.remove
        patch.setattr(Kept, "remove", lambda self: (watching(self.folder), remove(self)))
        piloted(plan, out, "--workers", "1")


def test_pieces_of_another_plan_are_not_mixed_in(plan: Path, tmp_path: Path, capsys) -> None:
    out = tmp_path / "out"
    process = _begun(plan, out)
    process.kill()
    process.communicate()
    before = all_bytes(out)
    assert run(["pilot", str(plan), "--out", str(out), "--seed", "9"]) == 2
    assert "whose parts are those of a run with another seed" in capsys.readouterr().err
    assert all_bytes(out) == before


def test_json_is_the_result(plan: Path, pilot: Path, tmp_path: Path, capsys) -> None:
    piloted(plan, tmp_path / "out", "--json")
    assert capsys.readouterr().out == (pilot / "pilot.json").read_text()
