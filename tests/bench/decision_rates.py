"""Screening as a decision beside the plain three-try rule, on the same invented fields, in one run.

Prints presentations at places, places within the limit called lost, and places 8 dB or more below
it called within, with bootstrap intervals over exams; last comes the ratio of presentations.

Run: python tests/bench/decision_rates.py [--people N] [--seed N]
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from analysis.reference import limits_db, load_reference
from protocols.draws import Stream, uniform
from protocols.field import Floats
from protocols.library import Protocol, load_protocol
from protocols.population.draw import MIXED, draw_population
from protocols.procedures.build import build_procedure
from protocols.procedures.psychometric import seeing_probability

SPREAD_DB, SLIP = 1.5, 0.02
DEEP_DB = 8.0


@dataclass(frozen=True)
class Found:
    """Of each exam: presentations, within places called lost and their number, deep ones missed."""

    presentations: Floats
    false_loss: Floats
    within: Floats
    missed: Floats
    deep: Floats


def main() -> None:
    options = _options()
    protocol = load_protocol("screen-19")
    people = draw_population(options.people, options.seed, protocol.pattern, MIXED)
    truth = np.asarray(people.sensitivity_db, float)
    limits = _limits(protocol, people.age_years)
    kinds = {name: _run(name, truth, limits, options.seed) for name in ("screen-19", "decide-19")}
    plain = kinds["screen-19"].presentations.mean()
    for name, found in kinds.items():
        print(
            f"{name:10s} {_mean(found.presentations)} presentations; within called lost "
            f"{_share(found.false_loss, found.within)}; {DEEP_DB:g} dB or more below missed "
            f"{_share(found.missed, found.deep)}; ratio {found.presentations.mean() / plain:.2f}"
        )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=7701)
    return parser.parse_args()


def _limits(protocol: Protocol, ages: Floats) -> Floats:
    """Reference limits of each person's age, (people, places)."""
    reference, places = load_reference(), protocol.pattern.places
    of_age = {int(age): limits_db(reference, places, int(age)) for age in np.unique(ages.round())}
    return np.array([of_age[int(age)] for age in ages.round()])


def _run(name: str, truth: Floats, limits: Floats, seed: int) -> Found:
    protocol = load_protocol(name)
    rule = build_procedure(protocol.settings.procedure, protocol.pattern.places)
    exams = len(truth)
    state, last = rule.start(np.maximum(limits, 0.0)), np.full(exams, -1)
    seeds, count, row = np.arange(exams) + seed, np.zeros(exams), np.arange(exams)
    first_seen = np.zeros(truth.shape, bool)
    asked = np.zeros(truth.shape, int)
    for step in range(2000):
        going = ~rule.finished(state).all(axis=-1)
        if not going.any():
            break
        place, level = rule.propose(state, uniform(seeds, step, Stream.PLACE), last)
        p = seeing_probability(level, truth[row, place], SPREAD_DB, SLIP, SLIP)
        seen = uniform(seeds, step, Stream.SEE) < p
        first_seen[row, place] |= seen & (asked[row, place] == 0) & going
        asked[row, place] += going
        state = rule.update(state, np.where(going, place, -1), level, seen)
        count, last = count + going, place
    within_said = first_seen if name == "screen-19" else state.verdict == 1
    lost_said = ~first_seen if name == "screen-19" else state.verdict == -1
    within, deep = truth >= limits, truth <= limits - DEEP_DB
    return Found(
        count,
        (within & lost_said).sum(axis=1).astype(float),
        within.sum(axis=1).astype(float),
        (deep & within_said).sum(axis=1).astype(float),
        deep.sum(axis=1).astype(float),
    )


def _mean(values: Floats) -> str:
    low, high = _between(lambda pick: values[pick].mean(), len(values))
    return f"{values.mean():.1f} ({low:.1f} to {high:.1f})"


def _share(part: Floats, whole: Floats) -> str:
    low, high = _between(lambda pick: part[pick].sum() / whole[pick].sum(), len(part))
    return f"{100 * part.sum() / whole.sum():.2f} % ({100 * low:.2f} to {100 * high:.2f})"


def _between(of, count: int) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    dice = np.random.default_rng(0)
    drawn = [of(dice.integers(0, count, count)) for _ in range(500)]
    low, high = np.quantile(drawn, [0.025, 0.975])
    return float(low), float(high)


if __name__ == "__main__":
    main()
