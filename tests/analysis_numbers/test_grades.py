"""Grades 0 to 4: where each begins and ends, and what the tries decide."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analysis.grading import Grade, grade_by_tries, grade_probabilities
from analysis.posterior import Posterior

LEVELS = np.round(np.arange(-4.0, 40.05, 0.1), 1)
LIMIT, FLOOR = 20.0, 1.6


def _certain(level_db):
    """A posterior that is sure of one level."""
    mass = (np.abs(LEVELS - level_db) < 1e-9).astype(float)
    assert mass.sum() == 1
    return Posterior(LEVELS, mass)


BOUNDARIES = [
    (30.0, 0), (20.0, 0), (19.9, 1), (16.1, 1), (16.0, 2), (15.9, 2), (12.1, 2), (12.0, 2),
    (11.9, 3), (1.7, 3), (1.5, 4), (-4.0, 4),
]  # fmt: skip


@pytest.mark.parametrize(("level_db", "grade"), BOUNDARIES)
def test_depth_below_the_limit_decides(level_db, grade):
    """Within; under 4 dB; 4 to 8 dB, ends and all; over 8 dB below; below full contrast."""
    odds = grade_probabilities(_certain(level_db), LIMIT, FLOOR)
    assert odds == tuple(float(n == grade) for n in range(5))


@settings(max_examples=100)
@given(
    arrays(float, len(LEVELS), elements=st.floats(0.0, 1.0)).filter(lambda m: m.sum() > 0),
    st.floats(0.0, 3.0),
    st.floats(-5.0, 30.0),
)
def test_the_five_probabilities_are_shares_of_one_whole(mass, floor_db, above_db):
    odds = grade_probabilities(Posterior(LEVELS, mass / mass.sum()), floor_db + above_db, floor_db)
    assert sum(odds) == pytest.approx(1.0)
    assert all(0 <= p <= 1 + 1e-12 for p in odds)


def test_a_limit_close_to_full_contrast_leaves_no_room_for_deep_grades():
    """With the limit 3 dB above full contrast, whatever is seen at all is grade 1 at worst."""
    odds = grade_probabilities(_certain(2.0), 4.6, 1.6)
    assert odds == (0.0, 1.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize(("level_db", "grade"), [(2.0, 0), (1.0, 0), (0.4, 4)])
def test_a_limit_below_full_contrast_leaves_within_and_not_seen(level_db, grade):
    """A reference may know people who see less than a weak display can show, here from 0.5 dB."""
    odds = grade_probabilities(_certain(level_db), 0.5, FLOOR)
    assert odds == tuple(float(n == grade) for n in range(5))


TRIES = [
    (1, True, True, 30.0, 0),
    (1, True, True, 10.0, 0),
    (2, True, True, 18.0, 1),
    (2, True, True, 14.0, 2),
    (3, True, True, 14.0, 2),
    (3, True, True, 5.0, 3),
    (3, True, True, 25.0, 1),
    (3, False, True, 10.0, 4),
    (0, False, False, 20.0, None),
    (2, False, False, 10.0, None),
]


@pytest.mark.parametrize(("tries", "seen", "finished", "level_db", "grade"), TRIES)
def test_tries_decide_first_then_the_posterior(tries, seen, finished, level_db, grade):
    found = grade_by_tries(_certain(level_db), LIMIT, FLOOR, tries, seen, finished)
    assert found.grade == grade


def test_a_grade_the_answers_contradict_is_not_trusted():
    """Seen at once, yet the posterior lies 10 dB below: a lucky press, so the grade is doubtful."""
    found = grade_by_tries(_certain(10.0), LIMIT, FLOOR, 1, True, True)
    assert (found.grade, found.probability, found.trusted) == (0, 0.0, False)


@pytest.mark.parametrize(("share", "trusted"), [(0.49, False), (0.5, True), (0.9, True)])
def test_a_grade_is_trusted_when_more_likely_than_not(share, trusted):
    assert Grade(2, (1 - share, 0.0, share, 0.0, 0.0)).trusted == trusted


def test_without_a_grade_there_is_no_probability():
    assert (Grade(None, (1, 0, 0, 0, 0)).probability, Grade(None, (1, 0, 0, 0, 0)).trusted) == (
        None,
        False,
    )
