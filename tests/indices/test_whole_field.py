"""The whole-field test: its stated false-alarm rate, its bound, and against plain rules.

Seeds here were used neither to calibrate nor to choose anything. The bench
`tests/bench/whole_field.py` prints ROC areas by stage on its own kept seeds.
"""

from __future__ import annotations

import numpy as np
import pytest
from field_rigs import SPREAD_DB, answers_of, people_of, played_of
from scipy.stats import binom

from analysis.indices.calibration import EXAM_SEED, PEOPLE_SEED, SHARES, key_of, p_of
from analysis.indices.model import model_for
from analysis.indices.ratio import log_ratios
from analysis.indices.regions import regions
from analysis.indices.roc import partial_area
from analysis.indices.summary import whole_field
from analysis.multiplicity import evidence
from protocols.library import load_protocol

PEOPLE, SEED = 5000, 661
PROTOCOLS = ["screen-19", "bayes-19"]


def _ratios(protocol, played):
    return log_ratios(played.likelihood, load_protocol(protocol).pattern.places, SPREAD_DB)


@pytest.mark.parametrize("protocol", PROTOCOLS)
def test_five_percent_of_fields_without_loss_are_flagged_at_nominal_five(protocol):
    """5,000 fields: 4.4 to 5.6 % at 5 %; at 1 % within Monte-Carlo error (3.3 SD) of 1 %."""
    assert SEED not in (PEOPLE_SEED, EXAM_SEED)
    ratios = _ratios(protocol, played_of(protocol, PEOPLE, SEED, True))
    loaded = load_protocol(protocol)
    p = np.array([p_of(float(ratio), loaded)[0] for ratio in ratios])
    rates = (p <= 0.05).mean(), (p <= 0.01).mean()
    print(f"{protocol}: {rates[0]:.2%} at 5 %, {rates[1]:.2%} at 1 %")
    assert 0.044 <= rates[0] <= 0.056
    assert binom.ppf(0.0005, PEOPLE, 0.01) <= rates[1] * PEOPLE <= binom.ppf(0.9995, PEOPLE, 0.01)


@pytest.mark.parametrize("protocol", PROTOCOLS)
def test_at_95_percent_specificity_no_plain_rule_finds_more(protocol):
    """Partial areas above 95 % specificity, in one run: ours at or above both plain rules."""
    without, having = (played_of(protocol, n, s, h) for n, s, h in
                       ((PEOPLE, SEED, True), (1000, SEED + 7, False)))  # fmt: skip
    ours = [_ratios(protocol, played) for played in (without, having)]
    below = [evidence(played.likelihood, SPREAD_DB) for played in (without, having)]
    low = [b <= 0.05 for b in below]
    if protocol == "screen-19":
        low = [played.outcome.place_presentations > 1 for played in (without, having)]
    test = partial_area(*ours, 0.05)
    worst = partial_area(*(-b.min(axis=1) for b in below), 0.05)
    count = partial_area(*(found.sum(axis=1) for found in low), 0.05)
    print(f"{protocol}: test {test:.3f}, any place {worst:.3f}, count {count:.3f}")
    assert test >= max(worst, count)


def test_without_a_table_the_bound_holds():
    """Markov: a ratio of 20 or more in at most 5 % of fields without loss."""
    ratios = _ratios("screen-19", played_of("screen-19", PEOPLE, SEED, True))
    assert (ratios >= np.log(20)).mean() <= 0.05
    other = load_protocol("screen-19").settings.procedure.__class__(step_db=3.0)
    assert key_of(other, ()) != key_of(load_protocol("screen-19").settings.procedure, ())


def test_every_bundled_procedure_of_places_has_its_table():
    for name in ("screen-17", "screen-19", "bayes-19", "staircase-19"):
        assert p_of(0.0, load_protocol(name))[1], name


def test_p_falls_as_the_ratio_grows_and_stays_within_the_table():
    protocol = load_protocol("screen-19")
    found = [p_of(ratio, protocol)[0] for ratio in np.linspace(-5, 30, 200)]
    assert found == sorted(found, reverse=True)
    assert (found[0], found[-1]) == (1.0, pytest.approx(SHARES[-1]))


def test_a_field_without_answers_has_a_ratio_of_one():
    """Nothing seen, nothing missed: loss explains nothing better."""
    blank = np.ones_like(played_of("screen-19", 500, 5, True).likelihood[:1])
    assert log_ratios(blank, load_protocol("screen-19").pattern.places, SPREAD_DB)[0] == (
        pytest.approx(0.0, abs=1e-6)
    )


def test_the_narrowest_reference_keeps_a_chance_of_every_height():
    assert np.isfinite(np.log(model_for(0.1).heights)).all()


def test_weights_are_shares_and_every_region_has_a_place():
    for name in ("screen-19", "screen-17"):
        places = load_protocol(name).pattern.places
        which, weights = regions(places)
        assert weights.sum() == pytest.approx(1)
        assert which.any(axis=1).all()
        assert len({row.tobytes() for row in which}) == len(which)
        assert all((which == np.eye(len(places), dtype=bool)[k]).all(axis=1).any()
                   for k in range(len(places)))  # fmt: skip


def test_deep_loss_is_found_and_said_in_words():
    played, people = (f("screen-19", 500, 91, False) for f in (played_of, people_of))
    deepest = int(np.argmax((people.healthy_db - people.sensitivity_db).sum(axis=1)))
    found = whole_field(answers_of(played, deepest), load_protocol("screen-19"))
    assert found.p == pytest.approx(0.001)
    assert found.words == (
        "under 0.1 % of simulated fields without loss are as unlike the reference as this"
    )
