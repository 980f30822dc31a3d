"""A pilot of six protocols and 5,000 people: its time, and whether its conclusions are stable.

    python tests/bench/pilot_six.py [--seeds 1 2 3] [--people N] [--workers 2]

Runs the plan beside it (pilot_six.toml: each person twice under each protocol, and 1,000 of them at
six rates of slips) once for each seed by the command itself, as a process of its own; prints time,
who is dominated and the orders. Exit 1 if a pilot takes 10 minutes or more, if another set is
dominated under another seed, or if two variants that are clearly apart under one seed are clearly
apart the other way round under another.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from itertools import combinations
from pathlib import Path

ROOT = Path(__file__).parents[2]
PLAN = Path(__file__).with_suffix(".toml")
LIMIT_S = 600.0
RUN = "import sys; from stimulus.cli import main; main(sys.argv[1:])"
OBJECTIVES = ("seconds", "rms_db", "sensitivity")


def piloted(plan: Path, folder: Path, seed: int, workers: int) -> tuple[dict, float]:
    """The result of a pilot, and its seconds."""
    words = ["pilot", plan, "--out", folder, "--seed", seed, "--workers", workers]
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", RUN, *map(str, words)], cwd=ROOT, check=True,
                   stdout=subprocess.DEVNULL)  # fmt: skip
    took = time.perf_counter() - began
    return json.loads((folder / "pilot.json").read_text()), took


def core_s() -> float:
    """Seconds of processor time of all programs that were waited for."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def say(result: dict, took: float, core: float) -> None:
    """Print what a pilot came to."""
    print(f"seed {result['seed']}: {result['exams']:,} exams in {took:.0f} s, {core:.0f} s of "
          "processor time")  # fmt: skip
    for one in result["dominated"]:
        print(f"  {one['variant']} is dominated by {', '.join(one['by'])}")
    for name in OBJECTIVES:
        print(f"  {name}: {' < '.join(' = '.join(group) for group in result['orders'][name])}")
    sys.stdout.flush()


def dominated(result: dict) -> set[str]:
    """Labels of the dominated variants."""
    return {one["variant"] for one in result["dominated"]}


def clear_signs(result: dict) -> dict[tuple[str, str, str], int]:
    """Which way each pair lies apart by each objective, 0 where not clearly."""
    signs = {}
    for pair in result["pairs"]:
        for name in OBJECTIVES:
            found = pair["difference"][name]
            sign = 1 if found["low"] > 0 else -1 if found["high"] < 0 else 0
            signs[pair["variant"], pair["other"], name] = sign
    return signs


def turned(one: dict, other: dict) -> list[tuple[str, str, str]]:
    """Pairs that are clearly apart both times, but the other way round."""
    before, after = clear_signs(one), clear_signs(other)
    return [key for key in before if before[key] * after[key] < 0]


def main() -> int:
    """Run, print, and say whether the bounds are kept."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    asked.add_argument("--people", type=int)
    asked.add_argument("--workers", type=int, default=2)
    options = asked.parse_args()
    text = PLAN.read_text()
    if options.people:
        text = text.replace("people = 5000", f"people = {options.people}")
        text = text.replace("people = 1000", f"people = {min(1000, options.people)}")
    kept, results = True, []
    with tempfile.TemporaryDirectory() as name:
        plan = Path(name) / PLAN.name
        plan.write_text(text)
        for seed in options.seeds:
            before = core_s()
            result, took = piloted(plan, Path(name) / f"seed-{seed}", seed, options.workers)
            say(result, took, core_s() - before)
            results.append(result)
            kept &= took < LIMIT_S
    for one, other in combinations(results, 2):
        same = dominated(one) == dominated(other)
        wrong = turned(one, other)
        print(f"seeds {one['seed']} and {other['seed']}: dominated set "
              f"{'the same' if same else 'DIFFERS'}; {len(wrong)} pairs turned round")  # fmt: skip
        kept &= same and not wrong
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
