"""Which codes to measure, in which order.

Levels cover the whole range; more of them lie where they tell most about the slope at mean grey:
at the top, and in the second fifth. The two ends are read `END_READINGS` times in each pass: all
light is counted from black, and the meter's noise in the dark must be known. Each pass goes over
all levels of all channels in a shuffled order, so that a drift of the screen becomes noise and not
a change of gamma.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.readings import COLOURS
from protocols.errors import require_within

EVEN_LEVELS = 17
END_READINGS = 3
TOP_SHARES = (0.89, 1.0, 8)
LOW_SHARES = (0.34, 0.52, 12)
SUM_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
FULL_SHARES = np.concatenate(
    [np.linspace(0, 1, EVEN_LEVELS), np.linspace(*TOP_SHARES), np.linspace(*LOW_SHARES)]
)


@dataclass(frozen=True)
class PlannedReading:
    """One reading to take: channel, code value, and the how-manieth of this level, from 1."""

    channel: str
    code: int
    repeat: int


def reading_plan(
    seed: int, bits: int = 8, repeats: int = 2, white_alone: bool = False
) -> list[PlannedReading]:
    """Every reading to take in so many passes, in order; the same for the same seed.

    With `white_alone` only grey screens are read, at all levels. Raises InputError for bits
    outside 8 to 12 or repeats outside 1 to 20.

    >>> plan = reading_plan(seed=1)
    >>> len(plan), sorted({step.channel for step in plan})
    (232, ['blue', 'green', 'red', 'white'])
    """
    require_within("bits", bits, 8, 12, "Give the bits of one channel.")
    require_within("repeats", repeats, 1, 20, "Two are usual.")
    rng = np.random.default_rng(seed)
    steps = _steps(bits, white_alone)
    ordered = [steps[at] for _ in range(repeats) for at in rng.permutation(len(steps))]
    taken: Counter[tuple[str, int]] = Counter()
    plan = []
    for step in ordered:
        taken[step] += 1
        plan.append(PlannedReading(step[0], step[1], taken[step]))
    return plan


def full_codes(bits: int) -> list[int]:
    """Code values at which a channel is read for its curve, rising.

    >>> codes = full_codes(8)
    >>> codes[0], codes[-1], len(codes)
    (0, 255, 33)
    """
    return _codes(FULL_SHARES, bits)


def _steps(bits: int, white_alone: bool) -> list[tuple[str, int]]:
    ends = [0, 2**bits - 1] * (END_READINGS - 1)
    full = full_codes(bits) + ends
    if white_alone:
        return [("white", code) for code in full]
    coloured = [(channel, code) for channel in COLOURS for code in full]
    return coloured + [("white", code) for code in _codes(SUM_SHARES, bits)]


def _codes(shares: ArrayLike, bits: int) -> list[int]:
    return sorted({round(float(share) * (2**bits - 1)) for share in np.asarray(shares)})
