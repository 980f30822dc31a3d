"""Many places, one field: evidence against health at each place, and false-discovery control.

Evidence is the share of healthy people of that age whose sensitivity lies at or below the place's,
averaged over what the answers leave open with every sensitivity as likely before them. Where
thresholds are measured it is spread evenly over 0..1 for a healthy place; under `rising` it is not:
a place seen at once has evidence near 1/2 or above, one missed once stays doubtful because a lapse
explains that as well, and only several misses make it small. So the same control (Benjamini &
Hochberg 1995, J R Stat Soc B 57:289) serves all procedures, and is cautious under `rising`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import ndtr

from analysis.indices.likelihood import RELATIVE_DB, Slips
from protocols.field import Floats
from protocols.procedures.interface import Bools

FALSE_DISCOVERY_RATE = 0.05
WARY = Slips(lapse=0.06)
"""Evidence must bear more lapses than a careful participant has: one place in nineteen decides."""


def evidence(likelihood: Floats, spread_db: float) -> Floats:
    """Evidence of each place, (places,); likelihoods (places, points), under `WARY` slips."""
    below = ndtr(RELATIVE_DB / spread_db)
    return np.asarray((likelihood * below).sum(axis=-1) / likelihood.sum(axis=-1))


def discoveries(p: Sequence[float] | Floats, rate: float = FALSE_DISCOVERY_RATE) -> Bools:
    """Which p stand after Benjamini and Hochberg's step-up rule at a false-discovery rate.

    Shape (n,).

    >>> discoveries([0.001, 0.02, 0.8], 0.05).tolist()
    [True, True, False]
    """
    values = np.asarray(p, float)
    if not len(values):
        return np.zeros(0, np.bool_)
    order = np.argsort(values, kind="stable")
    line = rate * np.arange(1, len(values) + 1) / len(values)
    under = np.flatnonzero(values[order] <= line)
    stands = np.zeros(len(values), np.bool_)
    if len(under):
        stands[order[: under[-1] + 1]] = True
    return stands
