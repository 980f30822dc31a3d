"""One run of the demonstration, on a machine with no display, and what it left behind."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PROGRAM = Path(sys.executable).with_name("ripplefield")
LIMIT_S = 120.0


@dataclass(frozen=True)
class Demo:
    code: int
    output: str
    errors: str
    seconds: float
    folder: Path

    def result(self, code: str) -> dict[str, Any]:
        found: dict[str, Any] = json.loads((self.folder / code / "result.json").read_text())
        return found

    def places(self, code: str, eye: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.result(code)["eyes"][eye]["places"]
        return found

    def words_of_page(self, code: str) -> str:
        page = (self.folder / code / "report.html").read_text()
        return " ".join(re.sub(r"<[^>]*>", " ", page).split())


def run_demo(parent: Path) -> Demo:
    """`ripplefield demo --out demo --seed 1` in this folder, as the README has it."""
    environment = {key: value for key, value in os.environ.items() if key != "DISPLAY"}
    began_s = time.monotonic()
    done = subprocess.run(
        [str(PROGRAM), "demo", "--out", "demo", "--seed", "1"],
        cwd=parent,
        env=environment,
        capture_output=True,
        text=True,
        timeout=3 * LIMIT_S,
        check=False,
    )
    seconds = time.monotonic() - began_s
    print(f"\ndemo: {seconds:.1f} s")
    return Demo(done.returncode, done.stdout, done.stderr, seconds, parent / "demo")
