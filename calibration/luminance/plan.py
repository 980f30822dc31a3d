"""Which codes to measure, in which order.

Levels cover the whole range; more of them lie where they tell most about the slope at mean grey:
at the top, and in the second fifth. Each repeat is one pass over all levels of all channels in a
shuffled order, so that a drift of the screen becomes noise and not a change of gamma.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.readings import CHANNELS, COLOURS
from protocols.errors import require_within

EVEN_LEVELS = 17
TOP_SHARES = (0.89, 1.0, 8)
LOW_SHARES = (0.34, 0.52, 12)
WHITE_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class PlannedReading:
    """One reading to take: channel, code value, and which pass it belongs to, from 1."""

    channel: str
    code: int
    repeat: int


def reading_plan(seed: int, bits: int = 8, repeats: int = 2) -> list[PlannedReading]:
    """Every reading to take, in order; the same for the same seed.

    Raises InputError for bits outside 8 to 12 or repeats outside 1 to 20.

    >>> plan = reading_plan(seed=1)
    >>> len(plan), {step.channel for step in plan} == set(CHANNELS)
    (224, True)
    """
    require_within("bits", bits, 8, 12, "Give the bits of one channel.")
    require_within("repeats", repeats, 1, 20, "Two are usual.")
    rng = np.random.default_rng(seed)
    steps = [
        (channel, code) for channel in CHANNELS for code in level_codes(channel, bits)
    ]
    return [
        PlannedReading(*steps[at], repeat)
        for repeat in range(1, repeats + 1)
        for at in rng.permutation(len(steps))
    ]


def level_codes(channel: str, bits: int) -> list[int]:
    """Code values to measure of a channel, rising; white has few, for the check of the sum.

    >>> level_codes("white", 8)
    [0, 64, 128, 191, 255]
    """
    shares = COLOUR_SHARES if channel in COLOURS else np.array(WHITE_SHARES)
    return sorted({round(float(share) * (2**bits - 1)) for share in shares})


COLOUR_SHARES = np.concatenate(
    [np.linspace(0, 1, EVEN_LEVELS), np.linspace(*TOP_SHARES), np.linspace(*LOW_SHARES)]
)
