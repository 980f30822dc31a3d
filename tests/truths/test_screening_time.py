"""A screening of one eye takes under one minute (common practice, no published source).

Twenty sittings of the invented healthy observer with each bundled screening, seeds 1 to 20, on the
virtual clock: every place tested, at least three of each catch trial, median journal time under
60 s. The last two tests pin the clock itself down, so that a fast one cannot pass.
"""

from __future__ import annotations

import statistics
from itertools import pairwise
from math import inf

import pytest
from records import record

from protocols.events import Presented
from protocols.explain import implied
from protocols.journal import read
from protocols.library import load_protocol

AREA = "Facts of the trade"
SOURCE = "Common practice, no published source"

SEEDS = range(1, 21)


@pytest.fixture(scope="module", params=[("screen-17", 17), ("screen-19", 19)], ids=lambda p: p[0])
def screenings(request, tmp_path_factory):
    """Name, number of places, and the entries of twenty exams."""
    name, places = request.param
    home = tmp_path_factory.mktemp(name)
    found = []
    for seed in SEEDS:
        assert record(home / str(seed), "healthy", name, seed=seed).phase == "finished"
        found.append(list(read(home / str(seed))))
    return name, places, found


def _shown(entries):
    return [entry.event for entry in entries if isinstance(entry.event, Presented)]


def test_every_place_is_tested(screenings):
    _, places, exams = screenings
    for entries in exams:
        tested = {line.place_number for line in _shown(entries) if line.role == "place"}
        assert tested == set(range(places))


@pytest.mark.parametrize("role", ["blind_spot", "blank", "full_contrast"])
def test_each_catch_trial_comes_at_least_three_times(truth, screenings, role):
    counts = [sum(line.role == role for line in _shown(entries)) for entries in screenings[2]]
    words = role.replace("_", " ")
    truth.inside(f"{screenings[0]}: fewest {words} trials of an eye", min(counts), 3, inf)


def test_the_median_journal_time_is_under_a_minute(truth, screenings):
    name, _, exams = screenings
    seconds = [entries[-1].t_s - entries[0].t_s for entries in exams]
    counts = [len(_shown(entries)) for entries in exams]
    print(
        f"{name}, one eye, seeds 1 to 20: median {statistics.median(seconds):.1f} s "
        f"({min(seconds):.1f} to {max(seconds):.1f}), median "
        f"{statistics.median(counts):g} presentations ({min(counts)} to {max(counts)})"
    )
    what = f"{name}: median seconds of one healthy eye, 20 sittings"
    assert statistics.median(seconds) < 60
    truth.inside(what, statistics.median(seconds), -inf, 60)


def test_no_exam_is_faster_than_its_light_and_quiet_times_allow(screenings):
    """Each presentation takes its 0.6 s of light and at least 0.3 s of quiet, one second unseen."""
    for entries in screenings[2]:
        shown = _shown(entries)
        assert entries[-1].t_s - entries[0].t_s >= 0.9 * len(shown)
        onsets = [line.onset_s for line in shown]
        steps = [b - a for a, b in pairwise(onsets)]
        assert min(steps) >= 0.6 + 0.3 - 1e-6
        assert max(steps) <= 1.0 + 0.8 + 1e-6


def test_times_agree_with_what_the_protocol_says_of_itself(screenings):
    """`ripplefield protocols NAME` promises a shortest time; the fastest exam comes near it."""
    name, _, exams = screenings
    fastest = min(entries[-1].t_s - entries[0].t_s for entries in exams)
    assert fastest == pytest.approx(implied(load_protocol(name)).shortest_s, rel=0.1)
