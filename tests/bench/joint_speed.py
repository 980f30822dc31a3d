"""Time the joint procedure takes: one live exam, and whole exams in batch.

The live figure is update and propose of one exam at 19 places, to be under 5 ms. The batch figure
is whole exams of mixed invented fields to their own end, catch trials among them, the procedure's
and the invented people's work together; to be at least 200 a second a core. Both are given by the
wall clock and by processor time: the machine may be busy. Run with OMP_NUM_THREADS=1.

Run: OMP_NUM_THREADS=1 python tests/bench/joint_speed.py [--exams N] [--chunk N] [--seed N]
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from joint_play import limits_for, play, some

from protocols.library import load_protocol
from protocols.population.draw import draw_answers, draw_population
from protocols.procedures.joint import Joint, JointSettings

PATTERN = load_protocol("screen-19").pattern
LIVE_EXAMS = 20


def main() -> None:
    options = _options()
    procedure = Joint(JointSettings(), PATTERN.places)
    _live(procedure, options.seed)
    _batch(procedure, options.exams, options.chunk, options.seed)


def _live(procedure: Joint, seed: int) -> None:
    times_s = np.array([t for k in range(LIVE_EXAMS) for t in _live_exam(procedure, seed + k)])
    print(f"update + propose, one exam of 19 places, {len(times_s)} answers (below 5 ms):")
    for clock, column in zip(("by the clock", "of processor time"), times_s.T, strict=True):
        median, high, most = np.percentile(column, [50, 99, 100]) * 1e3
        print(f"  {clock}: median {median:.2f}, 99 % {high:.2f}, longest {most:.2f} ms")


def _live_exam(procedure: Joint, seed: int) -> list[tuple[float, float]]:
    person = draw_population(1, seed, PATTERN)
    state, rng = procedure.start(limits_for(person, PATTERN)), np.random.default_rng(seed)
    times_s: list[tuple[float, float]] = []
    place, level = procedure.propose(state, rng.random(1), np.array([-1]))
    while not procedure.finished(state).all():
        seen = draw_answers(person, place, level, rng.random(1))
        wall_s, cpu_s = time.perf_counter(), time.thread_time()
        state = procedure.update(state, place, level, seen)
        place, level = procedure.propose(state, np.array([0.5]), place)
        times_s.append((time.perf_counter() - wall_s, time.thread_time() - cpu_s))
    return times_s


def _batch(procedure: Joint, exams: int, chunk: int, seed: int) -> None:
    people = draw_population(exams, seed, PATTERN)
    limits = limits_for(people, PATTERN)
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    shown = 0
    for first in range(0, exams, chunk):
        rows = np.arange(first, min(first + chunk, exams))
        shown += play(procedure, some(people, rows), limits[rows], seed).presentations.sum()
    wall_s, cpu_s = time.perf_counter() - wall_s, time.process_time() - cpu_s
    print(
        f"{exams} whole exams in chunks of {chunk}, {shown / exams:.1f} presentations each: "
        f"{exams / wall_s:.0f} a second by the clock, {exams / cpu_s:.0f} a second of processor "
        f"time (at least 200); {1e6 * cpu_s / shown:.0f} us a presentation"
    )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--exams", type=int, default=2000)
    parser.add_argument("--chunk", type=int, default=250)
    parser.add_argument("--seed", type=int, default=9101)
    return parser.parse_args()


if __name__ == "__main__":
    main()
