"""What an exam costs: presentations and seconds of an eye, by group and in the lab's own mix."""

from __future__ import annotations

import numpy as np

from analysis.piloting.measures import weighted_mean, weighted_quantile
from analysis.piloting.pieces import Examined
from analysis.piloting.result import Cost, Group, Spread
from protocols.field import Floats
from protocols.procedures.interface import Bools


def lab_weights(lossy: Bools, prevalence: float) -> Floats:
    """Weight of each person so that loss is as common as in the lab, (people,)."""
    having = lossy.sum()
    rare, common = prevalence / having, (1 - prevalence) / (len(lossy) - having)
    return np.asarray(np.where(lossy, rare, common))


def costs_of(exams: Examined, lossy: Bools, prevalence: float) -> list[Cost]:
    """Costs without loss, with loss, and at the lab's prevalence; `lossy` has shape (people,)."""
    groups: dict[Group, Floats] = {
        "without loss": (~lossy).astype(float),
        "with loss": lossy.astype(float),
        "at the lab's prevalence": lab_weights(lossy, prevalence),
    }
    return [
        Cost(
            group=group,
            people=int((weights > 0).sum()),
            presentations=_spread(exams.presentations, weights, lossy),
            seconds=_spread(exams.seconds, weights, lossy),
        )
        for group, weights in groups.items()
    ]


def _spread(values: np.ndarray, weights: Floats, lossy: Bools) -> Spread:
    """Of everybody's first exam, so that draws are independent; values (people, repeats)."""
    kept = weights > 0
    first = values[kept, 0].astype(float)
    return Spread(
        mean=weighted_mean(first, weights[kept], lossy[kept]),
        median=weighted_quantile(first, weights[kept], 0.5),
        percentile_95=weighted_quantile(first, weights[kept], 0.95),
    )
