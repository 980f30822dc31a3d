"""Wilks 1941, Ann Math Stat 12:91: how many people make the lowest of them a tolerance bound."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.reference_build.tolerance import (
    wilks_content,
    wilks_people,
    wilks_people_two_sided,
)

AREA = "Statistics"
SOURCE = "Wilks 1941, Ann Math Stat 12:91"


@pytest.mark.parametrize(("content", "people"), [(0.95, 59), (0.99, 299)])
def test_one_sided_first_order(truth, content, people):
    """95/95 and 95/99: 59 and 299."""
    truth(f"people for a one-sided 95/{content:.0%} bound", wilks_people(content), people)
    assert 1 - content**people >= 0.95 > 1 - content ** (people - 1)


@pytest.mark.parametrize(("content", "people"), [(0.95, 93), (0.99, 473)])
def test_two_sided(truth, content, people):
    """95/95 and 95/99 between lowest and highest: 93 and 473."""
    what = f"people for a two-sided 95/{content:.0%} bound"
    truth(what, wilks_people_two_sided(content), people)


@pytest.mark.parametrize(("people", "content"), [(59, 0.95), (299, 0.99)])
def test_content_is_the_inverse(people, content):
    assert wilks_content(people) == pytest.approx(content, abs=6e-4)
    assert wilks_content(people) >= content


def test_by_simulation_whatever_the_distribution():
    """Of 20,000 samples of 59, 95 % have 95 % of people above their lowest; error 0.0015."""
    lowest = np.random.default_rng(1).random((20_000, 59)).min(axis=1)
    assert np.mean(lowest <= 0.05) == pytest.approx(1 - 0.95**59, abs=4 * 0.0015)
