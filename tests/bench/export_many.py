"""A thousand exams to BIDS: seconds and memory of the command, beside plainly verifying them.

    python tests/bench/export_many.py [EXAMS]

The aim for 1,000 exams: under 60 s and under 500 MB. Every fourth exam is a threshold exam of one
eye, the others screen both eyes. They are recorded on a virtual clock and recast as of others.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "export")]

from export_rigs import of_person, recast  # noqa: E402
from records import record  # noqa: E402

PROGRAM = Path(sys.executable).with_name("ripplefield")
VALIDATOR = Path(sys.executable).with_name("bids-validator-deno")
AIM_S, AIM_MB = 60.0, 500.0
VISITS = 4


def make_exams(folder: Path, count: int) -> list[str]:
    """Exams of a quarter as many people, four visits each."""
    record(folder / "screen", "arc-loss", "screen-19", eyes=("right", "left"))
    record(folder / "bayes", "healthy", "bayes-19", seed=2)
    for number in range(count):
        person, visit = divmod(number, VISITS)
        source = folder / ("bayes" if visit == 3 else "screen")
        change = of_person(f"P-{person:04}", 30.0 * visit + person / 1440)
        recast(source, folder / f"exam-{number}", change)
    return [str(folder / f"exam-{number}") for number in range(count)]


def timed(words: list[str]) -> tuple[float, float]:
    """Seconds on the wall and greatest memory in MB of a program."""
    start = time.perf_counter()
    child = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    seconds = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    assert child.returncode == 0, words[:3]
    return seconds, used.ru_maxrss / 1024


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as scratch:
        exams = make_exams(Path(scratch), count)
        plain_s, plain_mb = timed([str(PROGRAM), "verify", *exams])
        out = f"{scratch}/dataset"
        export_s, export_mb = timed([str(PROGRAM), "export", "bids", *exams, "--out", out])
        check_s, _ = timed([str(VALIDATOR), "--ignoreWarnings", out])
        rows = sum(len(p.read_bytes().splitlines()) - 1 for p in Path(out).rglob("*_events.tsv"))
    print(f"{count} exams, {rows} presentations")
    print(f"verify alone     {plain_s:6.1f} s  {plain_mb:6.0f} MB")
    aim = f"(aim {AIM_S:g} s, {AIM_MB:g} MB)"
    print(f"export to BIDS   {export_s:6.1f} s  {export_mb:6.0f} MB  {aim}")
    print(f"bids-validator   {check_s:6.1f} s  valid")
    print(f"export over verify: {export_s / plain_s:.2f}")


if __name__ == "__main__":
    main()
