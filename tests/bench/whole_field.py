"""The whole-field test: false alarms, sensitivity, and against two plain rules.

    python tests/bench/whole_field.py [PEOPLE] [PROTOCOL...]

Simulated exams of PEOPLE (5,000 unless given) invented people without loss and half as many with,
on fresh seeds: none was used to calibrate or to choose anything. The plain rules, in the same run:
any place below its 5 % limit (swept by how far the worst place lies below), and the count of
places below their 5 % limits. Exit 1 if false alarms at nominal 5 % lie outside 4.4 to 5.6 % (at
1 %: 0.6 to 1.4 %), or if a plain rule has a larger partial area above 95 % specificity over all
losses, or at one stage of loss by more than Monte-Carlo error: the 95 % interval of the difference
from a paired bootstrap, the same people drawn again for both rules.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

KEPT_SEEDS = (88_001, 88_002, 88_003, 88_004)
"""People without and with loss, and their exams. Kept for this bench alone."""
STAGES = {"early": (0.0, 8.0), "moderate": (8.0, 16.0), "advanced": (16.0, 99.0)}
"""Mean depth over the places that lost more than 2 dB, from and below, dB."""
BOOTSTRAPS = 400


@dataclass(frozen=True)
class Scores:
    """Scores of each rule, higher for loss: the test, the worst place, the count."""

    ours: np.ndarray
    worst: np.ndarray
    count: np.ndarray


def scored(protocol, people, reference, seed):
    """Scores and p of everybody's exam."""
    from analysis.indices.calibration import p_of
    from analysis.indices.ratio import log_ratios
    from analysis.indices.simulated import play
    from analysis.multiplicity import evidence

    played = play(people, protocol, reference, seed)
    places, spread = protocol.pattern.places, reference.file.spread_db
    ratios = log_ratios(played.likelihood, places, spread)
    flat = played.likelihood.reshape(-1, played.likelihood.shape[-1])
    below = evidence(flat, spread).reshape(ratios.shape[0], -1)
    p = np.array([p_of(float(ratio), protocol)[0] for ratio in ratios])
    missed = played.outcome.place_presentations > 1
    rising = protocol.settings.procedure.__struct_config__.tag == "rising"
    low = missed if rising else below <= 0.05
    return Scores(ratios, -below.min(axis=1), low.sum(axis=1)), p


def depths(people):
    """Mean depth of each person's loss over the places that lost more than 2 dB."""
    lost = people.healthy_db - people.sensitivity_db
    touched = lost > 2
    return np.where(touched, lost, 0).sum(axis=1) / np.maximum(touched.sum(axis=1), 1)


def interval(without, having, dice):
    """Bootstrap 95 % interval of the partial area."""
    from analysis.indices.roc import partial_area

    found = [
        partial_area(dice.choice(without, len(without)), dice.choice(having, len(having)), 0.05)
        for _ in range(BOOTSTRAPS)
    ]
    return np.quantile(found, [0.025, 0.975])


def differences(without: Scores, having: Scores, rows: np.ndarray, dice) -> dict:
    """Paired bootstrap 95 % interval of our partial area less each plain rule's, and its SE."""
    from analysis.indices.roc import partial_area

    losses, found = np.flatnonzero(rows), {"worst": [], "count": []}
    for _ in range(BOOTSTRAPS):
        low = dice.integers(0, len(without.ours), len(without.ours))
        high = dice.choice(losses, len(losses))
        ours = partial_area(without.ours[low], having.ours[high], 0.05)
        for rule, values in found.items():
            both = getattr(without, rule)[low], getattr(having, rule)[high]
            values.append(ours - partial_area(*both, 0.05))
    return {
        rule: (*np.quantile(values, [0.025, 0.975]), np.std(values))
        for rule, values in found.items()
    }


def report(name: str, people: int) -> bool:
    """Measure one protocol, print, and say whether the bounds are kept."""
    from scipy.stats import binomtest

    from analysis.indices.counting import least_unusual_count
    from analysis.indices.roc import area_with_interval, curve, partial_area
    from analysis.reference import load_reference
    from protocols.library import load_protocol
    from protocols.population.draw import draw_population
    from protocols.population.losses import LOSSES

    protocol, reference = load_protocol(name), load_reference()
    healthy = draw_population(people, KEPT_SEEDS[0], protocol.pattern, {"healthy": 1.0})
    shapes = {shape: 1 / len(LOSSES) for shape in LOSSES}
    lossy = draw_population(people // 2, KEPT_SEEDS[1], protocol.pattern, shapes)
    without, p = scored(protocol, healthy, reference, KEPT_SEEDS[2])
    having, q = scored(protocol, lossy, reference, KEPT_SEEDS[3])
    kept = True
    for nominal, low, high in ((0.05, 0.044, 0.056), (0.01, 0.006, 0.014)):
        alarms = int((p <= nominal).sum())
        ends = binomtest(alarms, people).proportion_ci(0.95, "wilson")
        found = (q <= nominal).mean()
        print(f"{name}: nominal {nominal:.0%}, false alarms {alarms / people:.2%} of {people} "
              f"(95 %: {ends.low:.2%} to {ends.high:.2%}); sensitivity over all {found:.1%}")
        kept &= low <= alarms / people <= high
    least = least_unusual_count(len(protocol.pattern.places), 0.05)
    print(f"{name}: plain rules' own false alarms: any place {(without.count >= 1).mean():.1%}, "
          f"{least} or more {(without.count >= least).mean():.1%}; sensitivity "
          f"{(having.count >= 1).mean():.1%}, {(having.count >= least).mean():.1%}")
    depth, dice = depths(lossy), np.random.default_rng(1)
    for stage, (low, high) in {"all": (0.0, 99.0), **STAGES}.items():
        rows = (depth >= low) & (depth < high)
        parts = {
            rule: partial_area(getattr(without, rule), getattr(having, rule)[rows], 0.05)
            for rule in ("ours", "worst", "count")
        }
        whole, ends = area_with_interval(without.ours, having.ours[rows])
        ours = interval(without.ours, having.ours[rows], dice)
        alarms, found = curve(without.ours, having.ours[rows])
        at = ", ".join(f"{np.interp(a, alarms, found):.1%} at {1 - a:.0%}" for a in
                       (0.01, 0.05, 0.1))  # fmt: skip
        print(f"{name}, {stage} ({rows.sum()}): area {whole:.4f} ({ends[0]:.4f} to {ends[1]:.4f}); "
              f"partial area {parts['ours']:.4f} ({ours[0]:.4f} to {ours[1]:.4f}), any place "
              f"{parts['worst']:.4f}, count {parts['count']:.4f}; sensitivity {at} specificity")
        kept &= stage != "all" or parts["ours"] >= max(parts["worst"], parts["count"])
        for rule, (bottom, top, se) in differences(without, having, rows, dice).items():
            gain = parts["ours"] - parts[rule]
            print(f"{name}, {stage}: ours less {rule} {gain:+.4f} (95 %: {bottom:+.4f} to "
                  f"{top:+.4f}; Monte-Carlo SE {se:.4f})")  # fmt: skip
            kept &= bool(top >= 0)
    return kept


def main(arguments: list[str]) -> int:
    """Measure every protocol named."""
    people = int(arguments[0]) if arguments else 5000
    names = arguments[1:] or ["bayes-19", "screen-19", "staircase-19"]
    kept = [report(name, people) for name in names]
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
