"""Reliability after the exam: rates and drifts against invented truths, and what slips change."""

from __future__ import annotations

import numpy as np
import pytest
from field_rigs_trust import graded_people, pinned
from records import record
from scipy.stats import beta, quantile_test, theilslopes
from warned_exams import SCREEN_19, participant

from analysis.grade import grade_folder
from analysis.indices.likelihood import Slips
from analysis.verdict.drift import drift
from analysis.verdict.facts import RateEstimate
from analysis.verdict.presses import RATES, Answer, interval, mean, shares
from analysis.verdict.times import simple_reaction_s, time_check
from analysis.verdict.what_if import Graded, Slip, below_limit, spread_words, what_ifs
from protocols.observer import Fatigue, ObserverFile
from protocols.verdict import Evidence, heard_of

PACE = Evidence().pace


def _simulated(false, away, seed, shown=34):
    """Records of presses with known shares: healthy targets, blanks, blind-spot checks."""
    dice = np.random.default_rng(seed)
    found = []
    for number in range(shown):
        role = ("place", "place", "blind_spot", "blank")[number % 4]
        chance = {"place": 0.97, "blank": 0.0, "blind_spot": None}[role]
        sees = dice.random() < (away if chance is None else chance)
        presses = [float(dice.lognormal(np.log(0.4), 0.19))] if sees else []
        if dice.random() < false:
            presses.append(float(dice.random()))
        times = tuple(sorted(presses))
        early = bool(times) and times[0] < 0.1
        seen = bool(times) and not early and times[0] <= 1.0
        found.append(Answer(heard_of(role, seen, early, times), chance))
    return found


@pytest.mark.parametrize(("false", "away"), [(0.02, 0.05), (0.2, 0.05), (0.05, 0.4)])
def test_intervals_hold_the_true_shares(false, away):
    held = []
    for seed in range(120):
        both = shares(_simulated(false, away, seed), PACE)
        for truth, mass in ((false, both.uncaused), (away, both.away)):
            low, high = interval(mass)
            held.append(low <= truth <= high)
    print(f"{false:.0%}, {away:.0%}: held {np.mean(held):.1%}")
    assert np.mean(held) >= 0.93


def test_with_blanks_alone_it_is_the_jeffreys_interval():
    """Three of ten blanks pressed: the posterior is Beta(3.5, 7.5), checked by scipy."""
    answers = [Answer(heard_of("blank", n < 3, False, (0.5,) if n < 3 else ()), 0.0)
               for n in range(10)]  # fmt: skip
    found = shares(answers, PACE).uncaused
    assert mean(found) == pytest.approx(beta(3.5, 7.5).mean(), abs=0.002)
    spread = np.sqrt(found @ RATES**2 - mean(found) ** 2)
    assert spread == pytest.approx(beta(3.5, 7.5).std(), abs=0.002)


def test_presses_in_the_gap_too_early_and_twice_all_count():
    quiet = [Answer(heard_of("place", True, False, (0.4,)), 0.97)] * 20
    base = mean(shares(quiet, PACE).uncaused)
    for presses in ((0.05,), (0.4, 0.9), (0.4, 1.5)):
        early = presses[0] < 0.1
        more = [*quiet, *[Answer(heard_of("place", not early, early, presses), 0.97)] * 2]
        assert mean(shares(more, PACE).uncaused) > base + 0.05


def test_times_are_those_of_scipy():
    dice = np.random.default_rng(8)
    minutes = np.sort(dice.uniform(0, 2, 25))
    times = 0.36 + 0.05 * minutes + dice.normal(0, 0.02, 25)
    found = time_check(times.tolist(), minutes.tolist(), 45)
    theirs = theilslopes(times, minutes, 0.95)
    assert found.drift_s_per_min == pytest.approx(theirs.slope, abs=1e-4)
    ends = quantile_test(times, q=np.median(times), p=0.5).confidence_interval(0.95)
    assert found.interval_s == pytest.approx((ends.low, ends.high), abs=1e-4)
    assert "slower towards the end" in found.words


def test_what_is_expected_is_the_published_mean_and_twice_that():
    """Woods et al. 2015: 231 ms, 0.55 ms a year."""
    assert simple_reaction_s(41.5) == 0.231
    assert simple_reaction_s(81.5) == pytest.approx(0.253)
    assert time_check([0.2] * 9, list(range(9)), 45).words.startswith("Median 0.20 s, 0.9 times")
    assert "quicker than people react" in time_check([0.2] * 9, list(range(9)), 45).words
    assert "slower than expected" in time_check([0.7] * 9, list(range(9)), 45).words
    assert time_check([], [], 45).median_s is None


def test_tiring_shows_as_a_falling_sensitivity(tmp_path):
    """6 dB a minute lost, found below 0 with a threshold exam; none found where none is."""
    for name, fall in (("tires", 6.0), ("steady", 0.0)):
        model = ObserverFile(format=1, about="invented", fatigue=Fatigue(db_per_min=fall))
        record(tmp_path / name, model, seed=5, protocol="bayes-19")
        found = grade_folder(tmp_path / name).eyes["right"].trust.drift
        low, high = found.interval
        assert low <= -fall <= high
        assert (high < 0) == (fall > 0)


def test_without_answers_there_is_no_drift():
    answers = pinned(np.zeros(19))
    assert drift(answers, np.full(answers.level_db.shape, np.nan)) is None


def _rate(rate, low, high):
    return RateEstimate(rate, (low, high), 0, 1, "")


def test_a_place_missed_once_does_not_survive_many_misses():
    """One miss at the limit may be a lapse; three misses stay at any plausible rate."""
    answers, limits = graded_people([1, 3])
    seldom, often = (below_limit(answers, limits, Slips(lapse=rate)) for rate in (0.01, 0.4))
    assert (seldom >= 0.5).tolist() == [True, True]
    assert (often >= 0.5).tolist() == [False, True]
    graded = Graded(np.array([True, True]), np.array([False, False]), limits)
    slip = Slip("misses", "If {} of visible targets were missed", _rate(0.1, 0.01, 0.4))
    found = what_ifs(answers, graded, [slip])
    assert (found[0].stay, found[-1].stay) == (2, 1)
    assert found[-1].words == "If 40 % of visible targets were missed, 1 of 2 flagged places stay."
    assert spread_words(found, True) == (
        "If 40 % of visible targets were missed, 1 of 2 flagged places stay; at the likelier 10 % "
        f"{found[1].stay} of 2."
    )


def test_grades_that_hold_are_said_to_hold():
    answers, limits = graded_people([3, 3])
    graded = Graded(np.array([True, True]), np.array([False, False]), limits)
    slip = Slip("misses", "If {} of visible targets were missed", _rate(0.02, 0.01, 0.05))
    found = what_ifs(answers, graded, [slip])
    assert spread_words(found, True).startswith("At every plausible rate")
    assert spread_words(found, False).endswith("answers like these cannot carry one.")


def test_where_nothing_was_graded_no_grades_are_said_to_hold():
    answers, limits = graded_people([3, 3])
    none = Graded(np.zeros(2, bool), np.zeros(2, bool), limits)
    slip = Slip("misses", "If {} of visible targets were missed", _rate(0.02, 0.01, 0.05))
    assert spread_words(what_ifs(answers, none, [slip]), True) == ""


def test_a_record_tells_its_reliability(tmp_path):
    record(tmp_path / "good", participant(0.01, 0.0, 0.01), seed=2, protocol=SCREEN_19)
    record(tmp_path / "bad", participant(0.35, 0.0, 0.01), seed=2, protocol=SCREEN_19)
    good, bad = (grade_folder(tmp_path / n).eyes["right"].trust for n in ("good", "bad"))
    assert good.verdict == "fine so far"
    assert bad.verdict == "result will not be usable"
    assert bad.false_presses.interval[0] > good.false_presses.rate
    assert bad.false_presses.interval[0] <= 0.35 <= bad.false_presses.interval[1]
    assert good.gaze.exposures == 8
    assert good.misses.interval == pytest.approx(
        tuple(beta(0.5, 3.5).ppf([0.025, 0.975])), abs=1e-3
    )
    assert {one.slip for one in bad.what_if} == {"false presses", "misses", "gaze"}
