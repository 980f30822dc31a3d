"""A library of the system that drawing needs cannot be loaded: said before anything is made."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = Path(sys.executable).with_name("ripplefield")
RUN = [
    *("run", "screen-17", "--participant", "T-1", "--age", "45", "--eye", "left"),
    *("--windowed", "640x480", "--screen-width", "20", "--distance", "15"),
    *("--safety-confirmed-by", "AB", "--start", "now", "--skip-practice"),
    *("--button", "simulated:healthy", "--out", "exam"),
]
LIBRARIES = {"GL": "libGL.so.1", "fontconfig": "libfontconfig.so.1", "X11": "libX11.so.6"}


def without(name: str, folder: Path, display: str, *words: str) -> subprocess.CompletedProcess[str]:
    """The program where an empty file is met before the library of that name."""
    instead = folder / "libraries"
    instead.mkdir()
    (instead / LIBRARIES[name]).touch()
    return subprocess.run(
        [str(PROGRAM), *words],
        cwd=folder,
        env={**os.environ, "DISPLAY": display, "LD_LIBRARY_PATH": str(instead)},
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.mark.parametrize("name", LIBRARIES)
def test_an_exam_says_what_to_install(display: str, tmp_path: Path, name: str) -> None:
    done = without(name, tmp_path, display, *RUN)
    assert done.returncode == 2
    assert done.stderr.endswith(
        f'error: this machine: got "Library {name} not found."; allowed: the system\'s libraries '
        "for drawing. Install them: sudo apt-get install -y libgl1 libegl1 libglu1-mesa "
        "libgl1-mesa-dri libfontconfig1. Then see: ripplefield doctor\n"
    )
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "exam").exists()


def test_doctor_names_the_one(display: str, tmp_path: Path) -> None:
    done = without("fontconfig", tmp_path, display, "doctor")
    lines = done.stdout.splitlines()
    assert "missing   System libraries   cannot be loaded: libfontconfig.so.1" in lines
    [at] = [number for number, line in enumerate(lines) if line.startswith("missing   Window ")]
    assert lines[at + 2].strip() == "mend: See System libraries."
