"""Speed and memory of simulated exams.

    python tests/bench/engine_speed.py              rates, and cost of ten times as many
    python tests/bench/engine_speed.py --million    1,000,000 rising exams as well

Rates are whole exams a second of one core's time, in pieces of 1,000 of mixed invented observers:
the engine alone, and with grades and the results written out. Each run of the second part is a
process of its own, whose peak memory the system reports. Exit 1 if a bound is not kept: 2,000
whole bayes exams a second a core; ten times the exams in nine to eleven times the time, with a
peak not more than a tenth higher; a million within 24 GiB.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import ModuleType

os.environ.setdefault("OMP_NUM_THREADS", "1")
ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "simulate")]

PROTOCOLS = ("screen-19", "staircase-19", "bayes-19")
ROUNDS = 7
LEAST_BAYES = 2000
FEW, MANY, AGAIN, RUNS = 200, 2000, 40, 5
"""Observers' eyes of the two runs that are compared, exams of each, and how often."""
GIB = 2**30


def rates(folder: Path) -> bool:
    """Print whole exams a second of one core's time."""
    import numpy as np
    from tables import rows_of, study_of, write_table

    from protocols.simulate.chunks import piece, run_piece
    from protocols.simulate.machine import rig_for, run_exams

    table, kept = write_table(folder / "truth.csv", rows_of("screen-19", 200)), True
    for name in PROTOCOLS:
        study, _ = study_of(table, name, repeats=5)
        work, rig = piece(study, 0, "csv"), rig_for(study.protocol, study.delivery)
        nominal = work.limits_db - study.loss_db
        exams = len(work.seeds)
        engine, whole = [], []
        for _ in range(ROUNDS):
            began = time.process_time()
            run_exams(rig, nominal, work.watchers, work.seeds)
            middle = time.process_time()
            run_piece(work)
            engine.append(exams / (middle - began))
            whole.append(exams / (time.process_time() - middle))
        low, high = np.quantile(engine, [0.025, 0.975])
        print(
            f"{name}: {np.mean(engine):.0f} exams a second a core ({low:.0f} to {high:.0f} over "
            f"{ROUNDS} rounds), {np.mean(whole):.0f} with grades and writing"
        )
        kept &= name != "bayes-19" or np.mean(engine) >= LEAST_BAYES
    return kept


def measured(folder: Path, eyes: int, repeats: int, workers: int) -> dict[str, float]:
    """Wall and processor seconds and peak bytes of rising exams in a process of their own."""
    arguments = [sys.executable, __file__, "--child", folder, eyes, repeats, workers]
    ran = subprocess.run(list(map(str, arguments)), capture_output=True, text=True, check=True)
    (folder / "results.parquet").unlink()
    used: dict[str, float] = json.loads(ran.stdout)
    return used


def child(folder: Path, eyes: int, repeats: int, workers: int) -> None:
    """The run that `measured` starts."""
    import resource

    from tables import rows_of, study_of, write_table

    from protocols.simulate.chunks import piece, run_piece
    from protocols.simulate.run import simulate
    from protocols.simulate.workers import crew_of

    path = write_table(folder / "eyes.csv", rows_of("screen-19", eyes, eyes=("right",)))
    study, facts = study_of(path, "screen-19", repeats=repeats)
    run_piece(piece(study, 0, "parquet"))  # loads what is loaded once
    began, before = time.perf_counter(), _core_s(resource)
    simulate(study, folder / "results.parquet", crew_of(workers), facts)
    mine, theirs = (
        resource.getrusage(who).ru_maxrss
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    used = {
        "exams": study.exams,
        "wall_s": time.perf_counter() - began,
        "core_s": _core_s(resource) - before,
        "peak": 1024 * (mine + (workers > 1) * workers * theirs),
    }
    print(json.dumps(used))


def _core_s(resource: ModuleType) -> float:
    both = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return float(sum(used.ru_utime + used.ru_stime for used in both))


def linear(folder: Path) -> bool:
    """Print what ten times the exams cost in one core's time, starting the program left out."""
    import numpy as np

    pairs = [[measured(folder, eyes, AGAIN, 1) for eyes in (FEW, MANY)] for _ in range(RUNS)]
    ratios = [many["core_s"] / few["core_s"] for few, many in pairs]
    low, high = np.quantile(ratios, [0.025, 0.975])
    few_peak, many_peak = (np.mean([pair[k]["peak"] for pair in pairs]) for k in (0, 1))
    print(
        f"{MANY * AGAIN} exams against {FEW * AGAIN}: {np.mean(ratios):.2f} times the time "
        f"({low:.2f} to {high:.2f} over {RUNS} runs), peak memory {many_peak / 2**20:.0f} MiB "
        f"against {few_peak / 2**20:.0f} MiB"
    )
    return bool(9 <= np.mean(ratios) <= 11 and many_peak < 1.1 * few_peak)


def million(folder: Path) -> bool:
    """Print what a million rising exams take."""
    workers = len(os.sched_getaffinity(0))
    used = measured(folder, FEW, 5000, workers)
    print(
        f"{used['exams']:,.0f} rising exams: {used['wall_s']:.0f} s on {workers} processes, "
        f"{used['core_s']:.0f} s of processor time, peak memory at most "
        f"{used['peak'] / GIB:.2f} GiB"
    )
    return used["peak"] < 24 * GIB


def main() -> int:
    """Measure, print, and say whether the bounds are kept."""
    if sys.argv[1:2] == ["--child"]:
        child(Path(sys.argv[2]), *map(int, sys.argv[3:]))
        return 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        kept = [rates(folder), linear(folder)]
        if "--million" in sys.argv:
            kept.append(million(folder))
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main())
