"""Who is dominated: variants weighed against each other on the same people, beyond chance.

Everybody is examined under every variant, so people are drawn again all together (bootstrap, those
with and without loss apart) and differences keep what variants share. Intervals of differences hold
for all pairs and objectives at once (Bonferroni, 95 %).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import ndtri

from analysis.indices.roc import area_up_to
from analysis.piloting.detection import FEW_ALARMS
from analysis.piloting.measures import about, measure
from analysis.piloting.plan import Margins
from analysis.piloting.result import Dominated, Objectives, Orders, Pair
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints

DRAWS = 400
BETTER = np.array([-1.0, -1.0, 1.0])
"""Fewer seconds, less error, more found."""


@dataclass(frozen=True)
class Weighed:
    """What a variant is weighed by: seconds, sum and count of squared errors, each (people,), and

    scores of all exams, (people, repeats).
    """

    label: str
    seconds: Floats
    squares: Floats
    counts: Floats
    score: Floats


class Scale:
    """The order of scores (people, repeats), sorted once, to find areas of people drawn again."""

    def __init__(self, score: Floats, lossy: Bools) -> None:
        order = np.argsort(-score.ravel(), kind="stable")
        ordered = score.ravel()[order]
        self._person = order // score.shape[1]
        self._ends = np.append(np.flatnonzero(np.diff(ordered)), len(ordered) - 1)
        self._lossy = lossy[self._person]

    def upper_area(self, weights: Floats) -> float:
        """Mean sensitivity at false-alarm rates up to 5 % where people count by `weights`."""
        ordered = weights[self._person]
        alarms, found = (
            np.concatenate([[0.0], np.cumsum(ordered * of)[self._ends] / (ordered @ of)])
            for of in (~self._lossy, self._lossy)
        )
        return area_up_to(alarms, found, FEW_ALARMS)


@dataclass(frozen=True)
class Contest:
    """Objectives of all variants: as found (variants, 3), and of each draw (draws, variants, 3)."""

    labels: tuple[str, ...]
    found: Floats
    drawn: Floats

    def objectives(self) -> dict[str, Objectives]:
        """Objectives of each variant with their own intervals."""
        spread = self.drawn.std(axis=0, ddof=1)
        return {
            label: Objectives(*(about(*both) for both in zip(value, error, strict=True)))
            for label, value, error in zip(
                self.labels, self.found.tolist(), spread.tolist(), strict=True
            )
        }

    @property
    def reach(self) -> float:
        """How many standard errors a simultaneous interval reaches, a plain factor."""
        pairs = len(self.labels) * (len(self.labels) - 1) // 2
        return float(ndtri(1 - 0.025 / max(1, 3 * pairs)))

    def difference(self, one: int, other: int) -> tuple[Floats, Floats]:
        """One variant less another and the half width of its interval, each (3,).

        Seconds, dB, and a share, of the variants with these numbers.
        """
        apart = self.drawn[:, one] - self.drawn[:, other]
        return self.found[one] - self.found[other], self.reach * apart.std(axis=0, ddof=1)


def contest(weighed: Sequence[Weighed], lossy: Bools, prevalence: float, seed: int) -> Contest:
    """Weigh all variants on everybody, and on people drawn again; `lossy` has shape (people,)."""
    rng = np.random.default_rng([seed, 5_081])
    scales = [Scale(one.score, lossy) for one in weighed]
    weights = [_drawn_again(rng, lossy) for _ in range(DRAWS)]
    everybody = np.ones(len(lossy))

    def all_of(counts: Floats) -> Floats:
        return np.array(
            [
                _weigh(one, scale, counts, lossy, prevalence)
                for one, scale in zip(weighed, scales, strict=True)
            ]
        )

    labels = tuple(one.label for one in weighed)
    return Contest(labels, all_of(everybody), np.array([all_of(w) for w in weights]))


def _drawn_again(rng: np.random.Generator, lossy: Bools) -> Floats:
    """How often each person is drawn, those with and without loss apart."""
    counts = np.zeros(len(lossy))
    for rows in (np.flatnonzero(lossy), np.flatnonzero(~lossy)):
        counts[rows] = np.bincount(rng.integers(0, len(rows), len(rows)), minlength=len(rows))
    return counts


def _weigh(
    one: Weighed, scale: Scale, counts: Floats, lossy: Bools, prevalence: float
) -> tuple[float, float, float]:
    lost = counts * lossy
    kept = counts - lost
    seconds = prevalence * (lost @ one.seconds) / lost.sum()
    seconds += (1 - prevalence) * (kept @ one.seconds) / kept.sum()
    rms = np.sqrt((counts @ one.squares) / (counts @ one.counts))
    return float(seconds), float(rms), scale.upper_area(counts)


def pairs_of(found: Contest, margins: Margins) -> list[Pair]:
    """Every variant against every other, both ways where one dominates."""
    pairs = []
    for one, other in combinations(range(len(found.labels)), 2):
        apart, half = found.difference(one, other)
        pairs.append(_pair(found, one, other, apart, half, margins))
        pairs.append(_pair(found, other, one, -apart, half, margins))
    return pairs


def _pair(
    found: Contest, one: int, other: int, apart: Floats, half: Floats, margins: Margins
) -> Pair:
    ends = zip(apart.tolist(), half.tolist(), strict=True)
    measures = (measure(value, value - reach, value + reach) for value, reach in ends)
    return Pair(
        found.labels[one],
        found.labels[other],
        Objectives(*measures),
        dominates(apart, half, margins),
    )


def dominates(apart: Floats, half: Floats, margins: Margins) -> bool:
    """Whether a variant is clearly better in something and clearly no worse in anything.

    `apart` is it less the other, `half` the half widths of the intervals, each (3,): seconds, dB, a
    share. Better: by more than the margin over the whole interval; no worse: by no more than it
    anywhere in it.
    """
    margin = np.array([margins.seconds, margins.rms_db, margins.sensitivity])
    gain = apart * BETTER
    better, no_worse = gain - half > margin, gain - half >= -margin
    return bool(better.any() and no_worse.all())


def dominated_of(pairs: Sequence[Pair], labels: Sequence[str]) -> list[Dominated]:
    """Dominated variants with those that dominate them, in the plan's order."""
    by = {label: [p.variant for p in pairs if p.dominates and p.other == label] for label in labels}
    return [Dominated(label, rivals) for label, rivals in by.items() if rivals]


def orders_of(found: Contest) -> Orders:
    """From best to worst by each objective, neighbours that are not clearly apart in a group."""
    return Orders(*(_order(found, k) for k in range(len(BETTER))))


def _order(found: Contest, objective: int) -> list[list[str]]:
    ranked: Ints = np.argsort(-found.found[:, objective] * BETTER[objective], kind="stable")
    groups = [[found.labels[ranked[0]]]]
    for better, worse in zip(ranked[:-1].tolist(), ranked[1:].tolist(), strict=True):
        apart, half = found.difference(better, worse)
        clear = abs(apart[objective]) > half[objective]
        if clear:
            groups.append([])
        groups[-1].append(found.labels[worse])
    return groups
