"""Leave-one-out: each person judged by limits that were fitted without them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from analysis.reference_build.fit import fit_levels
from analysis.reference_build.quantile import exact_line
from analysis.reference_build.sample import Sample
from protocols.procedures.interface import Bools

Watch = Callable[[int, int], None]
"""Told how many people are done, of how many."""


def left_out_below(
    sample: Sample, shares: Sequence[float], watch: Watch = lambda done, total: None
) -> Bools:
    """Whether each level lies below the limit of each share, (shares, people, eyes, places).

    A level that was not measured is not below.
    """
    below = np.zeros((len(shares), *sample.level_db.shape), np.bool_)
    away = sample.eccentricity_deg
    for person in range(len(sample)):
        fit = fit_levels(sample.without(person), shares, exact_line)
        age = sample.age_years[person : person + 1]
        for number, share in enumerate(shares):
            limit = fit.levels_db(age, away, share)[0]
            below[number, person] = sample.level_db[person] < limit
        watch(person + 1, len(sample))
    return below
