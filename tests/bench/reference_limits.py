"""Are limits worth what they say? Built from 200 simulated healthy people, 200 times over.

    python tests/bench/reference_limits.py [REPEATS [PEOPLE]]

Every repeat examines its own people under `bayes-19` (both eyes have the person's field, each its
own exam, so that eyes go together as closely as they can), builds limits, and counts fresh people
below them. Prints how often the realised rate lies within the stated tolerance, for the 1 % and
the 5 % limit, with the Wilson interval of that share. Exit 1 if fewer than 93 % do at 1 %.

Levels are the procedure's own estimates; the population is invented (`protocols.population`).
"""

from __future__ import annotations

import sys
import time

import numpy as np
from scipy.stats import binomtest

from analysis.reference import limits_db, load_reference
from analysis.reference_build.build import STATED_SHARES, tolerance
from analysis.reference_build.fit import fit_levels
from analysis.reference_build.left_out import left_out_below
from analysis.reference_build.sample import Sample
from protocols.library import load_protocol
from protocols.population.draw import draw_population
from protocols.population.seeing import spread_db
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.watchers import Watchers

PROTOCOL = load_protocol("bayes-19")
DELIVERY = 0.827
FRESH = 20_000
BOUND = 0.93


def examined(people: int, seed: int) -> Sample:
    """Healthy people with both eyes examined on arrays."""
    drawn = draw_population(people, seed, PROTOCOL.pattern, {"healthy": 1.0})
    ages = np.rint(drawn.age_years)
    by_age = {a: limits_db(load_reference(), PROTOCOL.pattern.places, int(a)) for a in set(ages)}
    nominal = np.stack([by_age[a] for a in ages]) + 20 * np.log10(DELIVERY)
    watchers = Watchers(
        drawn.sensitivity_db,
        spread_db(drawn.sensitivity_db) * drawn.spread_factor[:, None],
        np.repeat(drawn.lapse_rate[:, None], nominal.shape[1], axis=1),
        drawn.false_press_rate,
    )
    eyes = [
        run_exams(rig_for(PROTOCOL, DELIVERY), nominal, watchers, eye * people + np.arange(people))
        for eye in range(2)
    ]
    levels = np.stack([eye.mean_db for eye in eyes], axis=1) - 20 * np.log10(DELIVERY)
    return Sample(tuple(map(str, range(people))), ages, levels, PROTOCOL.pattern.places)


def part_of(sample: Sample, rows: slice) -> Sample:
    return Sample(
        sample.codes[rows], sample.age_years[rows], sample.level_db[rows], sample.places
    )


def realised(sample: Sample, fresh: Sample, share: float) -> tuple[float, tuple[float, float]]:
    """Share of fresh places below the limit, and what was stated."""
    fit = fit_levels(sample, (share,))
    limits = fit.levels_db(fresh.age_years, fresh.eccentricity_deg, share)
    [below] = left_out_below(sample, fit, (share,))
    rate = float((fresh.level_db < limits[:, None]).mean())
    return rate, tolerance(sample, share, below).interval


def main(repeats: int = 200, people: int = 200) -> int:
    began = time.perf_counter()
    everyone = examined(repeats * people + FRESH, 20260)
    fresh = part_of(everyone, slice(repeats * people, None))
    print(f"{len(everyone)} people examined in {time.perf_counter() - began:.0f} s")
    kept = {}
    for share in STATED_SHARES:
        samples = (part_of(everyone, slice(k * people, (k + 1) * people)) for k in range(repeats))
        found = [realised(sample, fresh, share) for sample in samples]
        rates = np.array([rate for rate, _ in found])
        kept[share] = np.mean([low <= rate <= high for rate, (low, high) in found])
        report(share, rates, float(kept[share]), np.mean([stated for _, stated in found], axis=0))
    print(f"{time.perf_counter() - began:.0f} s in all")
    return int(kept[0.01] < BOUND)


def report(share: float, rates: np.ndarray, kept: float, stated: np.ndarray) -> None:
    sure = binomtest(round(kept * len(rates)), len(rates)).proportion_ci(method="wilson")
    print(
        f"{share:.0%} limit: realised {rates.mean():.2%} on average ({rates.min():.2%} to "
        f"{rates.max():.2%}), stated {stated[0]:.2%} to {stated[1]:.2%} on average; within what "
        f"was stated in {kept:.1%} of {len(rates)} (95 % interval {sure.low:.1%} to "
        f"{sure.high:.1%})"
    )


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:3])))
