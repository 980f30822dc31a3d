"""`ripplefield verify` over many exams: time and the most memory it takes.

python tests/bench/verify_many.py [EXAMS]    (10,000 if not said; copies are hard links)
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from records import record

PROGRAM = Path(sys.executable).with_name("ripplefield")
MOST_MB = 200


def link(exam: Path, folder: Path) -> None:
    folder.mkdir()
    for path in exam.iterdir():
        os.link(path, folder / path.name)


def measure(exams: int, *options: str) -> tuple[float, float, int]:
    """Seconds, peak megabytes and lines printed."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        record(folder / "e", "arc-loss", eyes=("right", "left"))
        for number in range(exams):
            link(folder / "e", folder / f"e{number:05}")
        words = [f"e{number:05}" for number in range(exams)]
        began = time.perf_counter()
        done = subprocess.run(
            [str(PROGRAM), "verify", *options, *words], cwd=folder, capture_output=True, text=True
        )
        seconds = time.perf_counter() - began
        assert done.returncode == 0, done.stderr
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return seconds, peak_mb, len(done.stdout.splitlines())


if __name__ == "__main__":
    exams = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    for options in ((), ("--json",)):
        seconds, peak_mb, printed = measure(exams, *options)
        what = " ".join(["verify", *options])
        print(f"{what}: {exams} exams in {seconds:.1f} s, {peak_mb:.0f} MB, {printed} lines")
        assert peak_mb < MOST_MB, f"more than {MOST_MB} MB"
