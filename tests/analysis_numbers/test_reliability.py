"""Catch trials as counts: which answers are wrong, which tell nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from trials import trial

from analysis.reliability import rate, reliability

KINDS = [
    ("blind_spot", "fixation", "seen", "not_seen"),
    ("blank", "false_positive", "seen", "not_seen"),
    ("full_contrast", "false_negative", "not_seen", "seen"),
]


@pytest.mark.parametrize(("role", "name", "wrong", "right"), KINDS)
def test_what_is_wrong_on_each_kind(role, name, wrong, right):
    found = getattr(reliability([trial(wrong, role), trial(right, role), trial(right, role)]), name)
    assert (found.shown, found.wrong, found.rate) == (3, 1, pytest.approx(1 / 3))


@pytest.mark.parametrize(("role", "name", "wrong", "right"), KINDS)
def test_each_kind_is_counted_in_its_own_rate_alone(role, name, wrong, right):
    found = reliability([trial(wrong, role)])
    for _, other, _, _ in KINDS:
        assert getattr(found, other).shown == (1 if other == name else 0)


@pytest.mark.parametrize(("role", "name", "wrong", "right"), KINDS)
@pytest.mark.parametrize(
    "tells_nothing", [{"practice": True}, {"spoiled": True}, {"verdict": "anticipation"}]
)
def test_practice_spoiled_and_anticipated_ones_say_nothing(
    role, name, wrong, right, tells_nothing
):
    found = reliability([trial(**{"verdict": wrong, "role": role} | tells_nothing)])
    assert getattr(found, name).shown == 0


def test_a_presentation_that_was_cut_short_tells_nothing():
    assert reliability([trial(None, "blank")]).false_positive.shown == 0


@pytest.mark.parametrize(("role", "wrong"), [("blank", 0), ("full_contrast", 1)])
def test_a_late_answer_is_not_seen(role, wrong):
    found = reliability([trial("late", role, response_time_s=1.3)])
    assert found.false_positive.wrong + found.false_negative.wrong == wrong
    assert found.late_answers == 1


def test_presses_that_decided_nothing_are_extra():
    trials = [
        trial("seen", presses_s=[0.4, 0.7, 1.4]),
        trial("not_seen", presses_s=[]),
        trial("anticipation", presses_s=[0.05, 0.5]),
    ]
    found = reliability(trials)
    assert (found.extra_presses, found.anticipations, found.late_answers) == (3, 1, 0)


def test_without_trials_nothing_is_known():
    found = rate(0, 0)
    assert (found.shown, found.rate, found.interval) == (0, None, (0.0, 1.0))


@given(st.integers(1, 50).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_holds_the_rate_and_stays_a_share(counts):
    wrong, shown = counts
    low, high = rate(wrong, shown).interval
    assert 0 <= low <= wrong / shown <= high <= 1
    assert high > low


def test_more_trials_narrow_the_interval():
    widths = [high - low for low, high in (rate(n, 5 * n).interval for n in (1, 4, 16, 64))]
    assert widths == sorted(widths, reverse=True)
