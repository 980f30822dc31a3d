"""What a press means. A press counts from 100 ms to 1 s (common practice, no published source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocols.answers import judge

EDGES = [
    ([], "not_seen", None),
    ([0.0], "anticipation", 0.0),
    ([0.0999], "anticipation", 0.0999),
    ([0.1], "seen", 0.1),
    ([0.42], "seen", 0.42),
    ([1.0], "seen", 1.0),
    ([1.0001], "late", 1.0001),
    ([1.7], "late", 1.7),
    ([0.05, 0.42], "anticipation", 0.05),
    ([0.42, 0.9], "seen", 0.42),
    ([0.42, 1.5], "seen", 0.42),
    ([-0.3, 0.42], "seen", 0.42),
    ([-0.3], "not_seen", None),
]


@pytest.mark.parametrize(("presses_s", "verdict", "response_time_s"), EDGES)
def test_verdict(presses_s, verdict, response_time_s):
    judged = judge(presses_s, 0.1, 1.0)
    assert (judged.verdict, judged.response_time_s) == (verdict, response_time_s)


@given(st.lists(st.floats(0.0, 2.0), max_size=5).map(sorted))
def test_the_first_press_decides(presses_s):
    assert judge(presses_s, 0.1, 1.0) == judge(presses_s[:1], 0.1, 1.0)


@given(st.floats(0.0, 3.0), st.floats(0.05, 0.5), st.floats(0.6, 3.0))
def test_the_window_is_the_protocols_own(press_s, from_s, until_s):
    verdict = judge([press_s], from_s, until_s).verdict
    assert (verdict == "seen") == (from_s <= press_s <= until_s)
    assert (verdict == "anticipation") == (press_s < from_s)
    assert (verdict == "late") == (press_s > until_s)
