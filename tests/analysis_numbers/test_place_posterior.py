"""What answers say of a place: intervals that hold the truth as often as they claim.

Places are invented from the prior itself (half a reference population, half flat), answered by the
assumed seeing curve under the rising rule, and then estimated. A posterior that is right must hold
the truth in 95 % of cases, and a grade given probability p must be right in a share p of cases.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import stats
from trials import trial

from analysis.grading import grade_by_tries
from analysis.posterior import STEP_DB, place_posterior, seeing_curve

MEAN, SPREAD, FLOOR = 24.0, 2.5, 1.65
LIMIT = MEAN + SPREAD * stats.norm.ppf(0.01)
N = 1500


def _posterior(trials):
    return place_posterior(trials, MEAN, SPREAD, FLOOR)


def _answers(truth_db, rng):
    """Trials of one place under the rising rule: limit, 4 dB stronger, full contrast."""
    trials = []
    for level in (LIMIT, LIMIT - 4, FLOOR):
        seen = rng.random() < seeing_curve(level, np.array(truth_db))
        trials.append(trial("seen" if seen else "not_seen", level_db=level))
        if seen:
            break
    return trials


@pytest.fixture(scope="module")
def simulated():
    """Truth in dB and posterior with tries of N invented places; fixed seed."""
    rng = np.random.default_rng(20300102)
    prior = _posterior([])
    truths = rng.choice(prior.levels_db, size=N, p=prior.mass)
    trials = [_answers(truth, rng) for truth in truths]
    return truths, [_posterior(one) for one in trials], trials


@pytest.mark.parametrize("share", [0.5, 0.8, 0.95])
def test_intervals_hold_the_truth_as_often_as_they_claim(simulated, share):
    """Within four standard errors of the share; the grid's steps can only widen them a little."""
    truths, posteriors, _ = simulated
    inside = [
        low - 1e-9 <= truth <= high + 1e-9
        for truth, (low, high) in zip(
            truths, (one.interval_db(share) for one in posteriors), strict=True
        )
    ]
    error = np.sqrt(share * (1 - share) / N)
    print(f"{share:.0%} intervals hold the truth in {np.mean(inside):.1%} of {N} places")
    assert share - 4 * error < np.mean(inside) < share + 4 * error + 0.03


def test_estimates_are_right_on_average(simulated):
    truths, posteriors, _ = simulated
    errors = truths - np.array([one.mean_db for one in posteriors])
    print(f"mean error {errors.mean():+.3f} dB, SD {errors.std():.2f} dB")
    assert abs(errors.mean()) < 4 * errors.std() / np.sqrt(N)


def test_grade_probabilities_are_what_happens(simulated):
    """Mean probability of each grade against the share of truths in it."""
    truths, posteriors, trials = simulated
    odds = np.array(
        [
            grade_by_tries(p, LIMIT, FLOOR, len(t), t[-1].seen, True).probabilities
            for p, t in zip(posteriors, trials, strict=True)
        ]
    )
    edges = (99, LIMIT, LIMIT - 4, LIMIT - 8, FLOOR, -99)
    for grade, (high, low) in enumerate(pairwise(edges)):
        happened = np.mean((truths >= low) & (truths < high))
        print(f"grade {grade}: said {odds[:, grade].mean():.3f}, happened {happened:.3f}")
        assert odds[:, grade].mean() == pytest.approx(happened, abs=4 * 0.5 / np.sqrt(N))


def test_mass_is_one_and_levels_step_evenly():
    posterior = _posterior([trial("seen", level_db=18.0)])
    assert posterior.mass.sum() == pytest.approx(1.0)
    assert np.diff(posterior.levels_db) == pytest.approx(STEP_DB)


def test_seeing_a_weaker_target_raises_the_estimate_and_missing_lowers_it():
    before = _posterior([]).mean_db
    assert _posterior([trial("seen", level_db=22.0)]).mean_db > before
    assert _posterior([trial("not_seen", level_db=18.0)]).mean_db < before
    seen = [_posterior([trial("seen", level_db=level)]).mean_db for level in (10, 15, 20, 25)]
    assert seen == sorted(seen)


@pytest.mark.parametrize("verdict", ["seen", "not_seen"])
def test_an_answer_weighs_each_level_by_its_chance(verdict):
    """Bayes' rule written out: posterior over prior goes as the chance of that answer."""
    prior, posterior = _posterior([]), _posterior([trial(verdict, level_db=18.0)])
    chance = 0.03 + 0.97 * 0.98 * stats.norm.cdf((prior.levels_db - 18.0) / 1.5)
    chance = chance if verdict == "seen" else 1 - chance
    ratio = posterior.mass / prior.mass / chance
    assert ratio == pytest.approx(np.full(len(ratio), ratio[0]))


def test_answers_come_in_any_order():
    one, two = trial("seen", level_db=14.0), trial("not_seen", level_db=18.0)
    assert _posterior([one, two]).mass == pytest.approx(_posterior([two, one]).mass)


def test_a_late_answer_counts_as_not_seen():
    late, unseen = (_posterior([trial(v, level_db=18.0)]) for v in ("late", "not_seen"))
    assert late.mass == pytest.approx(unseen.mass)


def test_the_interval_narrows_with_answers():
    wide, narrow = (
        _posterior([trial("seen", level_db=14.0), trial("not_seen", level_db=18.0)] * n)
        for n in (0, 3)
    )
    assert np.diff(narrow.interval_db()) < 0.4 * np.diff(wide.interval_db())


def test_a_place_that_sees_nothing_lies_below_full_contrast_most_likely():
    posterior = _posterior([trial("not_seen", level_db=v) for v in (18.0, 14.0, FLOOR)])
    assert posterior.probability(-99, FLOOR + 2) > 0.5
    assert posterior.interval_db()[1] < 20


def test_the_seeing_curve_rises_between_false_presses_and_lapses():
    """Ends: 3 % presses without seeing; 1 - 0.97 * 0.02 at the other (stated assumptions)."""
    assert float(seeing_curve(20.0, np.array(-100.0))) == pytest.approx(0.03)
    assert float(seeing_curve(20.0, np.array(100.0))) == pytest.approx(1 - 0.97 * 0.02)
    assert float(seeing_curve(20.0, np.array(20.0))) == pytest.approx(0.03 + 0.97 * 0.49)
