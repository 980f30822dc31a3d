"""Loss told from none: ROC curves, operating points, and what a result is worth in the lab."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np

from analysis.indices.roc import area_with_interval, curve, partial_area
from analysis.piloting.measures import Z95, measure, share
from analysis.piloting.result import Detection, Measure, Operating, RocPoint
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints

SPECIFICITIES = (0.90, 0.95, 0.99)
FEW_ALARMS = 0.05
GRADED_PLACES = (1, 2, 3)
JUST_RIGHT = 1e-9
"""Where the curve rises straight up, its upper end counts."""
ALARM_RATES = (0.0, 0.005, 0.01, 0.02, 0.03, 0.05, 0.075, *np.arange(0.1, 1.01, 0.05).round(2))


def detection_of(
    score: Floats, graded: Ints, lossy: Bools, prevalence: float, upper: Measure
) -> Detection:
    """From scores and counts of graded places of everybody's first exam, each (people,).

    `upper` is the area above 95 % specificity with its interval.
    """
    without, having = score[~lossy], score[lossy]
    area, ends = area_with_interval(without, having)
    cuts = {f"whole-field test at {s:.0%} specificity": cut_for(without, s) for s in SPECIFICITIES}
    rules = {name.replace("%", " %"): score > cut for name, cut in cuts.items()}
    rules |= {_graded_rule(n): graded >= n for n in GRADED_PLACES}
    return Detection(
        area=measure(area, ends[0], min(1.0, ends[1])),
        upper_area=upper,
        operating=[operating(name, said, lossy, prevalence) for name, said in rules.items()],
        roc=_roc(without, having),
    )


def _graded_rule(count: int) -> str:
    return f"{count} or more places graded below the limit"


def cut_for(without: Floats, specificity: float) -> float:
    """The smallest cut with no more false alarms above it than allowed.

    Scores (people,) of those without loss; the specificity is a share.
    """
    ordered = np.sort(without)
    allowed = int(np.floor((1 - specificity) * len(ordered) + 1e-9))
    return float(ordered[len(ordered) - 1 - allowed])


def operating(rule: str, said: Bools, lossy: Bools, prevalence: float) -> Operating:
    """A rule that says loss of some people, (people,)."""
    hits, having = int((said & lossy).sum()), int(lossy.sum())
    passes, without = int((~said & ~lossy).sum()), int((~lossy).sum())
    positive, negative = predictive_values((hits, having), (passes, without), prevalence)
    return Operating(rule, share(passes, without), share(hits, having), positive, negative)


def predictive_values(
    found: tuple[int, int], passed: tuple[int, int], prevalence: float
) -> tuple[Measure, Measure]:
    """Positive and negative predictive values from counts of (right, all) with and without loss.

    Bayes' rule; intervals on the logit scale (Mercaldo, Lau & Zhou 2007, Stat Med 26:2170) with
    half a person added to each count, the prevalence taken as known.
    """
    sensitivity, specificity = found[0] / found[1], passed[0] / passed[1]
    rare = prevalence, 1 - prevalence
    right = sensitivity * rare[0], specificity * rare[1]
    wrong = (1 - specificity) * rare[1], (1 - sensitivity) * rare[0]
    adjusted = tuple(_adjusted(*counts) for counts in (found, passed))
    (se, having), (sp, without) = adjusted
    spread = (
        sqrt((1 - se) / (se * having) + sp / ((1 - sp) * without)),
        sqrt(se / ((1 - se) * having) + (1 - sp) / (sp * without)),
    )
    middle = log(se * rare[0] / ((1 - sp) * rare[1])), log(sp * rare[1] / ((1 - se) * rare[0]))
    return (
        _value(right[0], wrong[0], middle[0], spread[0]),
        _value(right[1], wrong[1], middle[1], spread[1]),
    )


def _adjusted(right: int, of: int) -> tuple[float, int]:
    return (right + 0.5) / (of + 1), of + 1


def _value(right: float, wrong: float, middle: float, spread: float) -> Measure:
    low, high = (_expit(middle + sign * Z95 * spread) for sign in (-1, 1))
    value = right / (right + wrong) if right + wrong else _expit(middle)
    return measure(value, min(low, value), max(high, value))


def _expit(x: float) -> float:
    return 1 / (1 + exp(-x))


def _roc(without: Floats, having: Floats) -> list[RocPoint]:
    alarms, found = curve(without, having)
    heights = np.interp(np.add(ALARM_RATES, JUST_RIGHT), alarms, found)
    return [
        RocPoint(float(rate), _about_height(float(height), len(having)))
        for rate, height in zip(ALARM_RATES, heights, strict=True)
    ]


def _about_height(height: float, of: int) -> Measure:
    ends = share(round(height * of), of)
    return measure(height, min(ends.low, height), max(ends.high, height))


def found_by_shape(score: Floats, shape: Ints, lossy: Bools) -> dict[int, Measure]:
    """Share of each shape found at 95 % specificity; scores and shapes (people,)."""
    cut = cut_for(score[~lossy], 0.95)
    return {
        k: share(int((score[shape == k] > cut).sum()), int((shape == k).sum()))
        for k in np.unique(shape[lossy]).tolist()
    }


def upper_area(without: Floats, having: Floats) -> float:
    """Mean sensitivity at specificities of 95 % and more; scores (people,) of either kind."""
    return partial_area(without, having, FEW_ALARMS)
