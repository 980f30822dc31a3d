"""The time left that is stated holds the true one for healthy people and for lost regions alike.

A small version of `tests/bench/time_left.py`: recovery from simulated truth. The range states nine
of ten; the bound leaves room for two binomial standard deviations of so few ranges.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from time_left import KINDS, inside, person, play

STATED = 0.9
PEOPLE = 10


@pytest.mark.parametrize("kind", KINDS)
def test_nine_of_ten_ranges_hold_the_truth(kind):
    found = [
        inside(play("screen-19", person(kind, seed), seed), point, seed)
        for seed, point in zip(range(100, 100 + PEOPLE), 2 * (0.1, 0.3, 0.5, 0.7, 0.9), strict=True)
    ]
    share = float(np.mean([held for held, _, _ in found]))
    widths = [width / truth for _, truth, width in found]
    print(f"{kind}: {share:.0%} of {PEOPLE} ranges hold the truth; middle width "
          f"{np.median(widths):.0%} of the time left")  # fmt: skip
    assert share >= STATED - 2 * (STATED * (1 - STATED) / PEOPLE) ** 0.5
    assert np.median(widths) < 1.0, "a range that says nothing holds everything"
