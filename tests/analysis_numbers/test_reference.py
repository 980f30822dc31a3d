"""Age limits: the 1 % quantile of people of an age, never outside the ages of the reference."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.reference import limits_db, load_reference, mean_db, quantile_db
from protocols.errors import InputError
from protocols.field import Place, polar_place

REFERENCE = load_reference()
PLACES = (Place(0.0, 0.0), polar_place(9.5, 30.0), polar_place(20.0, 134.0))


def test_the_bundled_reference_says_that_it_is_synthetic():
    assert REFERENCE.facts.synthetic
    assert REFERENCE.facts.people == 0
    assert "SYNTHETIC" in REFERENCE.facts.notice


def test_the_mean_falls_with_eccentricity_and_age_as_the_file_says():
    """27 - 0.15 * eccentricity - 0.06 * (age - 20)."""
    assert mean_db(REFERENCE, PLACES, 20) == pytest.approx([27.0, 27 - 1.425, 24.0])
    assert mean_db(REFERENCE, PLACES, 70) == pytest.approx([24.0, 24 - 1.425, 21.0])


def test_one_person_in_a_hundred_is_below_the_limit():
    """By simulation: a million people of 45 at the inner ring; binomial error 0.0001."""
    people = stats.norm.rvs(
        mean_db(REFERENCE, PLACES, 45)[1], REFERENCE.file.spread_db, 1_000_000, random_state=3
    )
    assert np.mean(people < limits_db(REFERENCE, PLACES, 45)[1]) == pytest.approx(0.01, abs=4e-4)


def test_half_of_them_are_below_the_median():
    assert quantile_db(REFERENCE, PLACES, 45, 0.5) == pytest.approx(mean_db(REFERENCE, PLACES, 45))


@pytest.mark.parametrize("age", [9, 96, 0])
def test_an_age_the_reference_does_not_cover_is_refused(age):
    with pytest.raises(InputError) as refused:
        limits_db(REFERENCE, PLACES, age)
    assert str(refused.value) == (
        f"age: got {age}; allowed: 10 to 95 years, the ages of synthetic-1. "
        "Use a reference that covers this age."
    )


def test_the_hash_is_that_of_the_file(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(REFERENCE.text + "# a word\n")
    assert load_reference(path).sha256 != REFERENCE.sha256
    path.write_text(REFERENCE.text)
    assert load_reference(path).sha256 == REFERENCE.sha256


def test_a_mistake_in_a_reference_has_one_clear_answer(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(REFERENCE.text.replace("spread_db = 2.5", "spread_db = 0.0"))
    with pytest.raises(InputError, match=r"mine\.toml, spread_db: got 0; allowed: a num"):
        load_reference(path)
