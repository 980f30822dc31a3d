"""Leave-one-out: each person judged by limits that were fitted without them.

Who lies above a limit moves it by little when left out. So those whose levels all lie far above the
limits of the whole fit need no fit of their own; how far is far is checked against the movements
found for others who lie above.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from analysis.reference_build.fit import Fit, fit_levels
from analysis.reference_build.quantile import exact_line
from analysis.reference_build.sample import Sample
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints

Watch = Callable[[int, int], None]
"""Told how many people are done, of how many."""
FAR_DB = 0.8
"""Levels this far above a limit stay above it..."""
SAFETY = 2.0
"""... if leaving out another who lies above moved no limit by more than this part of it."""


def left_out_below(
    sample: Sample, fit: Fit, shares: Sequence[float], watch: Watch = lambda done, total: None
) -> Bools:
    """Whether each level lies below the limit of each share, (shares, people, eyes, places).

    `fit` is that of the whole sample. A level that was not measured is not below.
    """
    limits = _limits(sample, fit, shares)
    gap = sample.level_db - limits
    below = (gap < 0) & sample.known
    near, under = (gap < FAR_DB).any(axis=(0, 2, 3)), below.any(axis=(0, 2, 3))
    _judge(sample, shares, np.flatnonzero(under), below, limits, watch)
    moved = _judge(sample, shares, np.flatnonzero(near & ~under), below, limits, watch)
    if SAFETY * moved > FAR_DB:
        _judge(sample, shares, np.flatnonzero(~near), below, limits, watch)
    watch(len(sample), len(sample))
    return below


def _limits(sample: Sample, fit: Fit, shares: Iterable[float]) -> Floats:
    """Limits of each share and person, (shares, people, 1, places)."""
    away = sample.eccentricity_deg
    return np.stack([fit.levels_db(sample.age_years, away, share) for share in shares])[:, :, None]


def _judge(
    sample: Sample,
    shares: Sequence[float],
    people: Ints,
    below: Bools,
    limits: Floats,
    watch: Watch,
) -> float:
    """Fill in the verdicts of these people; the largest movement of a limit, dB."""
    moved = 0.0
    for done, person in enumerate(people.tolist()):
        watch(done, len(sample))
        without = fit_levels(sample.without(person), shares, exact_line)
        alone = sample.alone(person)
        limit = _limits(alone, without, shares)[:, 0]
        below[:, person] = sample.level_db[person] < limit
        moved = max(moved, float(np.abs(limit - limits[:, person]).max()))
    return moved
