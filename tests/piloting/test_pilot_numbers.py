"""A pilot's arithmetic against scipy, statsmodels, scikit-learn, and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest
from sklearn.metrics import roc_auc_score, roc_curve
from statsmodels.stats.proportion import proportion_confint

from analysis.piloting import measures
from analysis.piloting.detection import (
    ALARM_RATES,
    cut_for,
    detection_of,
    operating,
    predictive_values,
    upper_area,
)
from analysis.piloting.errors import DEPTHS, truth_of
from analysis.piloting.plan import Margins
from analysis.piloting.result import Measure
from analysis.piloting.rivals import (
    Scale,
    Weighed,
    contest,
    dominated_of,
    dominates,
    orders_of,
    pairs_of,
)

SEED = 11


@pytest.fixture
def dice() -> np.random.Generator:
    return np.random.default_rng(SEED)


@pytest.mark.parametrize(("hits", "of"), [(0, 10), (3, 20), (81, 263), (50, 50)])
def test_shares_have_wilsons_interval(hits: int, of: int) -> None:
    """81 of 263, 0.2553 to 0.3662: Newcombe 1998, Stat Med 17:857, table I."""
    found = measures.share(hits, of)
    low, high = proportion_confint(hits, of, method="wilson")
    assert (found.low, found.high) == pytest.approx((low, high), abs=2e-5)
    ours = binomtest(hits, of).proportion_ci(method="wilson")
    assert (found.low, found.high) == pytest.approx((ours.low, ours.high), abs=2e-5)


def test_a_clustered_mean_is_the_cluster_robust_one_of_a_regression(dice) -> None:
    """Against statsmodels' OLS on a constant with clustered errors, small-sample correction off."""
    import statsmodels.api as sm

    values = dice.normal(size=(80, 7)) + dice.normal(size=(80, 1))
    known = dice.random((80, 7)) < 0.7
    people = np.broadcast_to(np.arange(80)[:, None], values.shape)[known]
    fit = sm.OLS(values[known], np.ones(known.sum())).fit(
        cov_type="cluster", cov_kwds={"groups": people, "use_correction": False}
    )
    mean, error = measures.clustered_mean(values, known)
    assert mean == pytest.approx(fit.params[0])
    assert error == pytest.approx(fit.bse[0] * np.sqrt(80 / 79))


def test_the_interval_of_a_weighted_median_holds_as_often_as_it_says(dice) -> None:
    """Weights 1 and 4 as for a rare group; the true median by a big draw."""
    held, runs = 0, 400
    big = np.concatenate([dice.exponential(1, 400_000), 1 + dice.exponential(2, 400_000)])
    weights = np.repeat([1.0, 0.25], 400_000)
    true = measures.weighted_quantile(big, weights, 0.5).value
    for _ in range(runs):
        values = np.concatenate([dice.exponential(1, 150), 1 + dice.exponential(2, 150)])
        found = measures.weighted_quantile(values, np.repeat([1.0, 0.25], 150), 0.5)
        held += found.low <= true <= found.high
    assert binomtest(held, runs, 0.95).pvalue > 1e-3


def test_quantiles_without_weights_are_numpys(dice) -> None:
    values = dice.normal(size=501)
    for quantile in (0.5, 0.95):
        found = measures.weighted_quantile(values, np.ones(501), quantile).value
        assert found == pytest.approx(
            np.quantile(values, quantile, method="inverted_cdf"), abs=1e-5
        )


def _scores(dice, ties: bool):
    lossy = np.repeat([False, True], [300, 200])
    score = dice.normal(size=500) + 1.5 * lossy
    return (np.round(score) if ties else score), lossy


@pytest.mark.parametrize("ties", [False, True])
def test_the_roc_curve_is_scikit_learns(dice, ties: bool) -> None:
    score, lossy = _scores(dice, ties)
    none = Measure(0.0, 0.0, 0.0)
    found = detection_of(score, np.zeros(500, int), lossy, 0.05, none)
    assert found.area.value == pytest.approx(roc_auc_score(lossy, score), abs=1e-5)
    alarms, hits, _ = roc_curve(lossy, score, drop_intermediate=False)
    theirs = np.interp(np.add(ALARM_RATES, 1e-9), alarms, hits)
    ours = [point.sensitivity.value for point in found.roc]
    np.testing.assert_allclose(ours, theirs, atol=1e-5)
    assert all(p.sensitivity.low <= p.sensitivity.value <= p.sensitivity.high for p in found.roc)


@pytest.mark.parametrize("ties", [False, True])
def test_the_area_of_people_drawn_again_is_that_of_the_people_written_out(dice, ties) -> None:
    score, lossy = _scores(dice, ties)
    scale = Scale(score[:, None], lossy)
    counts = dice.integers(0, 4, 500)
    again, labels = np.repeat(score, counts), np.repeat(lossy, counts)
    ours = scale.upper_area(counts.astype(float))
    assert ours == pytest.approx(upper_area(again[~labels], again[labels]), abs=1e-12)
    everybody = scale.upper_area(np.ones(500))
    standard = roc_auc_score(lossy, score, max_fpr=0.05)  # McClish-corrected
    least, most = 0.05**2 / 2, 0.05
    corrected = 0.5 * (1 + (0.05 * everybody - least) / (most - least))
    assert corrected == pytest.approx(standard, abs=1e-9)


def test_a_cut_lets_no_more_through_than_it_says(dice) -> None:
    for scores in (dice.normal(size=299), np.round(dice.normal(size=300))):
        for specificity in (0.9, 0.95, 0.99):
            cut = cut_for(scores, specificity)
            assert (scores > cut).mean() <= 1 - specificity + 1e-12
            below = scores[scores < cut].max()
            assert (scores > below).mean() > 1 - specificity


def test_predictive_values_are_bayes_rule_and_their_intervals_hold(dice) -> None:
    """A test of 90 % and 95 % at 3.54 % prevalence is right in 39.8 % of its alarms: worked out."""
    positive, negative = predictive_values((90, 100), (190, 200), 0.0354)
    right = 0.9 * 0.0354
    assert positive.value == pytest.approx(right / (right + 0.05 * 0.9646), abs=1e-5)
    kept = 0.95 * 0.9646
    assert negative.value == pytest.approx(kept / (kept + 0.1 * 0.0354), abs=1e-5)
    runs, held = 1000, np.zeros(2)
    true = [right / (right + 0.05 * 0.9646), kept / (kept + 0.1 * 0.0354)]
    for _ in range(runs):
        counts = (int(dice.binomial(100, 0.9)), 100), (int(dice.binomial(200, 0.95)), 200)
        for k, found in enumerate(predictive_values(*counts, 0.0354)):
            held[k] += found.low <= true[k] <= found.high
    assert all(0.93 <= share <= 0.985 for share in held / runs), held


def test_a_rule_that_never_errs_still_has_intervals() -> None:
    lossy = np.repeat([True, False], 50)
    perfect = operating("all", lossy, lossy, 0.05)
    assert perfect.positive_predictive_value.value == 1
    assert 0.2 < perfect.positive_predictive_value.low < 1
    silent = operating("none", np.zeros(100, bool), lossy, 0.05)
    assert 0 <= silent.positive_predictive_value.low < silent.positive_predictive_value.high <= 1


def test_depths_are_of_the_persons_own_loss_and_full_contrast_is_the_floor() -> None:
    healthy = np.full((1, 6), 20.0)
    now = np.array([[20.0, 19.0, 15.0, 10.0, 3.0, 1.0]])
    truth = truth_of(now, healthy, np.array([3]), 1.65)
    assert [DEPTHS[k] for k in truth.depth[0]] == list(DEPTHS)
    assert truth.level_db[0, -1] == 1.65


def _weighed(dice, label, seconds, error, shift, lossy):
    people = len(lossy)
    return Weighed(
        label=label,
        seconds=seconds + dice.normal(size=people),
        squares=19 * (error * (1 + 0.1 * dice.normal(size=people))) ** 2,
        counts=np.full(people, 19.0),
        score=(dice.normal(size=people) + shift * lossy)[:, None],
    )


def test_who_is_dominated_is_who_is_made_so(dice) -> None:
    lossy = np.repeat([False, True], 500)
    made = [
        _weighed(dice, "good", 40, 2.0, 3.0, lossy),
        _weighed(dice, "slow", 60, 2.0, 3.0, lossy),
        _weighed(dice, "quick and rough", 20, 4.0, 3.0, lossy),
        _weighed(dice, "blind", 40, 2.0, 1.0, lossy),
    ]
    found = contest(made, lossy, 0.05, SEED)
    pairs = pairs_of(found, Margins(seconds=5, rms_db=0.25, sensitivity=0.15))
    by = {one.variant: one.by for one in dominated_of(pairs, found.labels)}
    assert by == {"slow": ["good"], "blind": ["good"]}
    orders = orders_of(found)
    assert orders.seconds[0] == ["quick and rough"]
    assert orders.seconds[-1] == ["slow"]
    assert orders.rms_db[-1] == ["quick and rough"]
    assert orders.sensitivity[-1] == ["blind"]
    kept, lost = ~lossy, lossy
    seconds = 0.95 * made[0].seconds[kept].mean() + 0.05 * made[0].seconds[lost].mean()
    assert found.objectives()["good"].seconds.value == pytest.approx(seconds, abs=1e-4)


def test_standard_errors_of_a_difference_of_means_are_the_paired_ones(dice) -> None:
    """The bootstrap against the formula, prevalence one half, people shared by both variants."""
    lossy, shared = np.repeat([False, True], 400), dice.normal(size=800) * 5
    made = [_weighed(dice, name, 40, 2.0, 2.0, lossy) for name in "ab"]
    made = [
        Weighed(one.label, one.seconds + shared, one.squares, one.counts, one.score) for one in made
    ]
    found = contest(made, lossy, 0.5, SEED)
    _, half = found.difference(0, 1)
    apart = made[0].seconds - made[1].seconds
    exact = np.sqrt(sum(apart[rows].var(ddof=1) / 400 for rows in (lossy, ~lossy))) / 2
    assert half[0] / found.reach == pytest.approx(exact, rel=0.15)


@pytest.mark.parametrize(
    ("apart", "half", "expected"),
    [
        ((-6.0, 0.0, 0.0), (0.5, 0.1, 0.01), True),
        ((-5.4, 0.0, 0.0), (0.5, 0.1, 0.01), False),  # better, but not clearly beyond the margin
        ((-60.0, 0.2, 0.0), (0.5, 0.1, 0.01), False),  # the error may be worse by more
        ((-60.0, 0.1, 0.0), (0.5, 0.1, 0.01), True),
        ((-60.0, 0.0, -0.045), (0.5, 0.1, 0.01), False),  # so may detection
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), False),  # equal ones dominate nobody
    ],
)
def test_dominating_takes_more_than_chance_and_more_than_the_margin(apart, half, expected) -> None:
    assert dominates(np.array(apart), np.array(half), Margins()) is expected


def test_shares_of_places_have_an_interval_that_heeds_people_and_stays_a_share(dice) -> None:
    """Places that a person all hits or all misses tell as much as the person does: against
    Clopper-Pearson of so many people (scipy), for whom the interval is no narrower."""
    people = dice.random(60) < 0.3
    hits = np.broadcast_to(people[:, None], (60, 19)).copy()
    everywhere = np.ones_like(hits)
    found = measures.clustered_share(hits, everywhere)
    exact = binomtest(int(people.sum()), 60).proportion_ci(method="exact")
    assert found.low <= exact.low + 0.01
    assert found.high >= exact.high - 0.01
    none = measures.clustered_share(np.zeros_like(hits), everywhere)
    assert (none.value, none.low) == (0, 0)
    assert 0.01 < none.high < 0.1
    alone = measures.clustered_share(hits[:1], everywhere[:1])
    assert (alone.low, alone.high) == (0, 1)
