"""A tiny exam as a program of its own, to be killed, unplugged, stopped and taken up again."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PROGRAM = Path(sys.executable).with_name("ripplefield")
PATIENCE_S = 120.0
SEED, BUTTON = 6, "simulated:observer.toml"
POLL_S = 0.003

PROTOCOL = """
format = 1
name = "tiny"
about = "Four places, as fast as the rules let; late frames never spoil, so load changes nothing."
pattern = "four.toml"

[stimulus]
duration_s = 0.05
ramp_s = 0.0

[answering]
accept_until_s = 0.3

[foreperiod]
min_s = 0.1
max_s = 0.12
lead_in_s = 0.0

[procedure]
kind = "rising"

[catch_trials]
blind_spot = 1
blank = 1
full_contrast = 1
none_in_first = 1

[frames]
late_allowed = 1000

[safety]
override_reason = "A test on a virtual screen that nobody looks at."
"""

PATTERN = """
format = 1
name = "four"
places_deg = [[0.0, 8.0], [-8.0, 0.0], [0.0, -8.0], [8.0, 8.0]]
"""

OBSERVER = """
format = 1
about = "Invented: one place lost, unsure about the others, and quick."
age_years = 45

[right]
centre_db = 19.0

[[right.losses]]
shape = "disc"
x_deg = -8.0
y_deg = 0.0
radius_deg = 3.0
depth_db = 45.0

[pressing]
false_press_rate = 0.1

[reaction]
mean_s = 0.17
sd_s = 0.01
tail_s = 0.005
slower_near_threshold_s = 0.01
"""


@dataclass(frozen=True)
class Desk:
    """A folder with the files of the tiny exam, and the display it runs on."""

    folder: Path
    display: str

    def run(self, *words: str) -> subprocess.Popen[str]:
        """`ripplefield run WORDS...`, started in this folder."""
        return self.start("run", *words)

    def start(self, *words: str, **more: Any) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [str(PROGRAM), *words],
            cwd=self.folder,
            env={**os.environ, "DISPLAY": self.display},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            **more,
        )

    def new_exam(self, out: str, button: str, seed: int, *more: str) -> list[str]:
        return [
            *("tiny.toml", "--participant", "T-1", "--age", "45", "--eye", "right"),
            *("--windowed", "640x480", "--distance", "20", "--screen-width", "20"),
            *("--safety-confirmed-by", "AB", "--start", "now", "--skip-practice"),
            *("--button", button, "--seed", str(seed), "--out", out, *more),
        ]


def set_up(folder: Path, display: str) -> Desk:
    for name, text in {"tiny": PROTOCOL, "four": PATTERN, "observer": OBSERVER}.items():
        (folder / f"{name}.toml").write_text(text)
    return Desk(folder, display)


def journal(folder: Path) -> list[dict[str, Any]]:
    """Whole lines of a journal that may be growing; none where there is none yet."""
    path = folder / "journal.jsonl"
    text = path.read_bytes() if path.exists() else b""
    return [json.loads(line) for line in text[: text.rfind(b"\n") + 1].splitlines()]


def count_lines(folder: Path) -> int:
    path = folder / "journal.jsonl"
    return path.read_bytes().count(b"\n") if path.exists() else 0


def data_of(folder: Path, kind: str) -> list[dict[str, Any]]:
    return [line["data"] for line in journal(folder) if line["kind"] == kind]


def wait_until(met: Callable[[], bool], program: subprocess.Popen[str], what: str) -> None:
    """Until something is so; fails with the program's own words if it ends first."""
    end_s = time.monotonic() + PATIENCE_S
    while not met():
        if program.poll() is not None and not met():
            raise AssertionError(f"ended before {what}: {program.communicate()}")
        assert time.monotonic() < end_s, f"waited in vain for {what}"
        time.sleep(POLL_S)


def end_of(program: subprocess.Popen[str]) -> tuple[int, str, str]:
    """Exit code, output and errors of a program that ends by itself."""
    output, errors = program.communicate(timeout=PATIENCE_S)
    assert "Traceback" not in errors, errors
    return program.returncode, output, errors


def sequence(folder: Path) -> list[tuple[Any, ...]]:
    """Index, role, place, level and verdict of every answered presentation."""
    shown = {one["index"]: one for one in data_of(folder, "presented")}
    return [
        (
            answer["index"],
            *(shown[answer["index"]][key] for key in ("role", "place_number", "level_db")),
            answer["verdict"],
        )
        for answer in data_of(folder, "answered")
    ]


def grades(folder: Path) -> list[int | None]:
    result = json.loads((folder / "result.json").read_text())
    return [place["grade"] for place in result["eyes"]["right"]["places"]]
