"""The command: what it prints, its help, and that all three formats come from the same folders."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from protocols import RESEARCH_ONLY
from stimulus.cli import run

PROGRAM = Path(sys.executable).with_name("ripplefield")
SAID = {
    "bids": "2 exams of 1 participant as BIDS",
    "dicom": "5 files of 2 exams as DICOM",
    "fhir": "3 Observations of 2 exams as FHIR",
}
HEAVY = ("psychopy", "pyglet", "numpy", "scipy", "matplotlib", "msgspec", "pydicom", "pynetdicom")


@pytest.mark.parametrize("kind", SAID)
def test_says_what_it_made(
    kind: str, originals: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    out = str(tmp_path / "out")
    exams = [str(originals[name]) for name in ("screen", "lone")]
    before = {path: path.read_bytes() for exam in exams for path in Path(exam).iterdir()}
    options = ["--mean-luminance", "50"] if kind == "dicom" else []
    assert run(["export", kind, *exams, "--out", out, *options]) == 0
    told = capsys.readouterr()
    assert told.out == f"{out}: {SAID[kind]}\n{RESEARCH_ONLY}\n"
    assert told.err == ""
    assert [path.name for path in tmp_path.iterdir()] == ["out"], "no scratch is left"
    assert before == {path: path.read_bytes() for exam in exams for path in Path(exam).iterdir()}
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o755


def test_a_terminal_shows_how_far_it_is(originals: dict[str, Path], tmp_path: Path):
    """A real pseudo-terminal as standard error."""
    ours, theirs = pty.openpty()
    exams = [str(originals[name]) for name in ("screen", "lone", "bayes")]
    done = subprocess.run(
        [str(PROGRAM), "export", "bids", *exams, "--out", str(tmp_path / "out")],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm", "COLUMNS": "80"},
        timeout=60,
        check=True,
    )
    os.close(theirs)
    shown = os.read(ours, 100_000).decode()
    os.close(ours)
    assert "exams written" in shown
    assert "3/3" in shown
    assert b"exams written" not in done.stdout


@pytest.mark.parametrize("kind", SAID)
def test_help(kind: str):
    code = (
        "import sys\n"
        "from stimulus.cli import run\n"
        f"run(['export', {kind!r}, '--help'])\n"
        f"print('loaded:', sorted(set({HEAVY!r}) & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    *page, last = done.stdout.splitlines()
    text = " ".join(" ".join(page).split())
    assert text.startswith(f"Usage: ripplefield export {kind} [OPTIONS] DIR...")
    assert f"Example: ripplefield export {kind} exams/" in text
    assert text.endswith(RESEARCH_ONLY)
    assert last == "loaded: []"
