"""Against the stock gamma route on the same readings: at most half its error, in one run."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from gamma_route import STOCK, compared, rms_ratio


@pytest.fixture(scope="module")
def errors():
    return compared(40, seed=21)


@pytest.mark.parametrize("name", STOCK)
def test_our_error_of_delivered_contrast_is_at_most_half(errors, name):
    ours, stock = errors
    ratio, low, high = rms_ratio(ours, stock[name])
    print(f"ours over {name}: {ratio:.3f} ({low:.3f} to {high:.3f})")
    assert ratio <= 0.5
    if name == "stock":
        assert high <= 0.5
