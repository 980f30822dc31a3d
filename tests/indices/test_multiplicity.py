"""False-discovery control: Benjamini & Hochberg 1995 against statsmodels and scipy, live."""

from __future__ import annotations

import numpy as np
import pytest
from field_rigs import FLOOR_DB, SPREAD_DB, people_of, played_of
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control
from statsmodels.stats.multitest import multipletests

from analysis.batch import trials_of
from analysis.indices.likelihood import likelihoods
from analysis.multiplicity import FALSE_DISCOVERY_RATE, WARY, discoveries, evidence

SHARES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40)


@given(SHARES, st.sampled_from([0.01, 0.05, 0.2]))
def test_the_rule_is_statsmodels_and_scipys(p, rate):
    found = discoveries(p, rate)
    theirs = multipletests(p, rate, method="fdr_bh")[0]
    assert found.tolist() == theirs.tolist()
    adjusted = false_discovery_control(np.array(p))
    clear = np.abs(adjusted - rate) > 1e-12
    assert (found == (adjusted <= rate))[clear].all()


def test_nothing_to_judge_gives_nothing():
    assert discoveries([]).tolist() == []


def _evidence(protocol, count, seed, healthy):
    played = played_of(protocol, count, seed, healthy)
    trials = trials_of(played.outcome.history, 19, FLOOR_DB)
    found = likelihoods(trials.level_db, trials.seen, played.means_db.ravel(), WARY)
    return evidence(found, SPREAD_DB).reshape(-1, 19)


@pytest.mark.parametrize("protocol", ["bayes-19", "screen-19"])
def test_discoveries_are_seldom_false(protocol):
    """Mean share of false ones among a field's discoveries, over people with loss: at most 5 %.

    False: less than half a decibel was taken off there.
    """
    people = people_of(protocol, 1000, 668, False)
    lost = people.healthy_db - people.sensitivity_db
    stands = np.array([discoveries(row) for row in _evidence(protocol, 1000, 668, False)])
    false = (stands & (lost < 0.5)).sum(axis=1) / np.maximum(stands.sum(axis=1), 1)
    print(f"{protocol}: false {false.mean():.2%}, found of places 4 dB down or more "
          f"{stands[lost >= 4].mean():.1%}")  # fmt: skip
    assert false.mean() <= FALSE_DISCOVERY_RATE
    assert stands[lost >= 8].mean() > 0.4


@pytest.mark.parametrize("protocol", ["bayes-19", "screen-19"])
def test_evidence_is_no_bolder_than_its_share(protocol):
    """Among places without loss, evidence of 5 % or less in no more than 5 % of them."""
    p = _evidence(protocol, 1000, 671, True)
    assert (p <= 0.05).mean() <= 0.05
    assert (p <= 0.2).mean() <= 0.2
