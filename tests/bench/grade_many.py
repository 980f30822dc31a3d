"""How fast many exams are graded: `ripplefield grade` over 1,000 exams, and one exam by itself.

    python tests/bench/grade_many.py [EXAMS]

Makes exams of both eyes (half `screen-19`, half `bayes-19`, a few different ones copied under
names of their own), grades them by the installed command with a table, and grades one after
import, best of five. Bounds: 20 s for 1,000 on two cores, 0.2 s for one. Exit 1 if one is not kept.
Prints the processor time too, which other work on the machine does not touch.
"""

from __future__ import annotations

import csv
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from records import record

from analysis.grade import grade_folder

PROGRAM = Path(sys.executable).with_name("ripplefield")
DIFFERENT = 6
ALL_S, ONE_S = 20.0, 0.2


def make(folder: Path, exams: int) -> None:
    """Exams in a folder."""
    made = folder.parent / "made"
    for k in range(DIFFERENT):
        protocol = ("screen-19", "bayes-19")[k % 2]
        record(made / str(k), "healthy", protocol, seed=k, eyes=("right", "left"))
    for k in range(exams):
        shutil.copytree(made / str(k % DIFFERENT), folder / f"exam-{k:04d}")


def all_s(folder: Path, exams: int) -> tuple[float, float]:
    """Seconds by the clock and of processors for the command over all of them."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    table = folder.parent / "all.csv"
    subprocess.run(
        [str(PROGRAM), "grade", str(folder), "--table", str(table)],
        check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    took = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    rows = len(list(csv.DictReader(table.open())))
    assert rows == exams * 38, rows
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, used


def one_s(folder: Path) -> float:
    """Seconds of one exam after import, best of five."""
    times = []
    for _ in range(5):
        began = time.perf_counter()
        grade_folder(folder)
        times.append(time.perf_counter() - began)
    return min(times)


def main(exams: int = 1000) -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "exams"
        folder.mkdir()
        make(folder, exams)
        took, used = all_s(folder, exams)
        one = one_s(folder / "exam-0001")
    load = os.getloadavg()[0]
    print(f"{exams} exams, both eyes: {took:.1f} s, {used:.1f} s of processors (load {load:.1f})")
    print(f"one exam (bayes-19, both eyes) after import: {one:.3f} s")
    return int(took > ALL_S * exams / 1000 or one > ONE_S)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:2])))
