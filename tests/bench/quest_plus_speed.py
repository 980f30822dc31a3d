"""Choosing and learning at 64 x 64: ours against the `questplus` package, in one run.

    python tests/bench/quest_plus_speed.py

Prints the mean time of propose + update for the package, for one exam of ours and for an exam of
ours in a batch of 1,000, with the ratios and their 95 % bootstrap intervals over rounds. Stimuli
and thresholds linspace(-40, 0, 64) dB, slope 3.5; every exam gets 20 answers. Exit 1 if a bound
(1/50 and 1/1000) is not kept.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import questplus

from protocols.procedures.grid import Grid
from protocols.procedures.quest_plus import QuestPlus
from protocols.procedures.settings import QuestPlusSettings

VALUES = np.linspace(-40, 0, 64)
ANSWERS, ROUNDS = 20, 12
BOUNDS = {1: 1 / 50, 1000: 1 / 1000}
RUNS = {1: 100, 1000: 1}
"""Runs in a round: each route is timed for about as long as the others."""


def package_s(dice: np.random.Generator) -> float:
    """Seconds of one choice and update of the package."""
    rule = questplus.QuestPlus(
        stim_domain={"intensity": VALUES},
        param_domain={
            "threshold": VALUES, "slope": [3.5], "lower_asymptote": [0.03], "lapse_rate": [0.03],
        },
        outcome_domain={"response": ["Yes", "No"]}, func="weibull", stim_scale="dB",
        stim_selection_method="min_entropy", param_estimation_method="mean",
    )  # fmt: skip
    answers = dice.random(ANSWERS) < 0.5
    began = time.perf_counter()
    for seen in answers:
        stimulus = rule.next_stim
        rule.update(stim=stimulus, outcome={"response": "Yes" if seen else "No"})
    return (time.perf_counter() - began) / ANSWERS


def ours_s(exams: int, dice: np.random.Generator) -> float:
    """Seconds of one choice and update of one exam of ours."""
    grid = Grid(-VALUES, -VALUES, np.full(64, 3.5), (0.03, 0.03), "weibull")
    rule = QuestPlus(
        QuestPlusSettings(curve="weibull", second_values=(3.5,), end_sd_db=0.05, most=1000), grid
    )
    state = rule.start(np.full((exams, 1), 14.0))
    state = rule.with_prior(state, np.full((exams, 1, 64), 1 / 64))
    nobody, u = np.full(exams, -1), np.zeros(exams)
    answers = dice.random((RUNS[exams], ANSWERS, exams)) < 0.5
    began, fresh = time.perf_counter(), state
    for run in answers:
        state = fresh
        for seen in run:
            place, level = rule.propose(state, u, nobody)
            state = rule.update(state, place, level, seen)
    return (time.perf_counter() - began) / answers.size


def _interval(theirs: np.ndarray, ours: np.ndarray) -> tuple[float, float]:
    dice = np.random.default_rng(0)
    drawn = dice.integers(0, len(ours), (2000, len(ours)))
    low, high = np.quantile(ours[drawn].mean(axis=1) / theirs[drawn].mean(axis=1), [0.025, 0.975])
    return float(low), float(high)


def main() -> int:
    """Measure, print, and say whether the bounds are kept."""
    dice = np.random.default_rng(1)
    for exams in BOUNDS:
        ours_s(exams, dice)
    rounds = [
        (package_s(dice), *(ours_s(exams, dice) for exams in BOUNDS)) for _ in range(ROUNDS)
    ]
    theirs, *ours = np.array(rounds).T
    print(f"questplus package: {theirs.mean() * 1e3:.2f} ms")
    kept = True
    for (exams, bound), times in zip(BOUNDS.items(), ours, strict=True):
        ratio, (low, high) = times.mean() / theirs.mean(), _interval(theirs, times)
        kept &= ratio <= bound
        print(
            f"ours, {exams} at a time: {times.mean() * 1e6:.2f} us an exam, 1/{1 / ratio:.0f} of "
            f"the package's (95 % interval 1/{1 / high:.0f} to 1/{1 / low:.0f}; "
            f"wanted 1/{1 / bound:.0f})"
        )
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
