"""The measuring plan: what is read, how often, and in an order that a drift cannot mislead."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from displays import delivered

from calibration.certificate import ReadingLine
from calibration.gamma import gamma_part, transfer_of
from calibration.luminance.plan import END_READINGS, full_codes, reading_plan
from calibration.readings import COLOURS, screen_codes
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols.errors import InputError


def test_same_seed_same_plan():
    assert reading_plan(5) == reading_plan(5)
    assert reading_plan(5) != reading_plan(6)


def test_each_level_is_read_as_often_as_there_are_passes_and_the_ends_more():
    counts = Counter((step.channel, step.code) for step in reading_plan(1, repeats=3))
    for channel in COLOURS:
        assert counts[channel, 0] == counts[channel, 255] == 3 * END_READINGS
        assert counts[channel, 128] == 3


@pytest.mark.parametrize("bits", [8, 10])
def test_both_ends_are_measured(bits):
    codes = full_codes(bits)
    assert (codes[0], codes[-1]) == (0, 2**bits - 1)
    assert len(codes) >= 30


def test_passes_follow_each_other():
    plan = reading_plan(2, repeats=2)
    first = plan[: len(plan) // 2]
    assert sum(step.repeat == 1 for step in first if step.code == 128) == 4


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"bits": 6}, "bits: got 6; allowed: 8 to 12"),
        ({"repeats": 0}, "repeats: got 0; allowed: 1 to 20"),
    ],
)
def test_odd_wishes_are_refused(given, message):
    with pytest.raises(InputError, match=message):
        reading_plan(1, **given)


def drifting_error(order: list[tuple[str, int]]) -> float:
    """Error of a contrast when the screen dims by 4 % while the plan is measured."""
    display = SimulatedDisplay(DisplayFile(about="dims", gamma=[2.2] * 3))
    fading = np.linspace(1.0, 0.96, len(order))
    light = display.cd_m2([screen_codes(*step) for step in order]) * fading
    lines = [
        ReadingLine(channel=channel, code=code, cd_m2=float(value))
        for (channel, code), value in zip(order, light, strict=True)
    ]
    transfer = transfer_of(gamma_part(lines, "drift", 0.02, 8))
    return abs(delivered(display, transfer, 0.01) / 0.01 - 1)


def _code(step: tuple[str, int]) -> int:
    return step[1]


def test_shuffling_keeps_a_drift_out_of_the_curve():
    plan = [(step.channel, step.code) for step in reading_plan(11)]
    shuffled, sorted_up = drifting_error(plan), drifting_error(sorted(plan, key=_code))
    print(f"error of the contrast: shuffled {shuffled:.4f}, dark to bright {sorted_up:.4f}")
    assert shuffled < 0.01
    assert shuffled < sorted_up / 2
