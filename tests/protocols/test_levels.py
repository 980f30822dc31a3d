"""Contrast and contrast dB: 20*log10(1/C), 0 dB is full contrast."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocols.errors import InputError
from protocols.levels import contrast_from_db, db_from_contrast


@pytest.mark.parametrize(
    ("contrast", "level_db"), [(1.0, 0.0), (0.5, 6.020599913), (0.1, 20.0), (0.005, 46.02059991)]
)
def test_known_levels(contrast, level_db):
    assert float(db_from_contrast(contrast)) == pytest.approx(level_db)
    assert float(contrast_from_db(level_db)) == pytest.approx(contrast)


@given(st.floats(0.0, 60.0))
def test_there_and_back(level_db):
    assert float(db_from_contrast(contrast_from_db(level_db))) == pytest.approx(level_db, abs=1e-9)


@given(st.lists(st.floats(0.0, 60.0), min_size=2, max_size=20, unique=True))
def test_more_db_is_less_contrast(levels_db):
    ordered = sorted(levels_db)
    assert np.all(np.diff(contrast_from_db(ordered)) <= 0)


def test_arrays_keep_their_shape():
    assert contrast_from_db(np.zeros((2, 3))).shape == (2, 3)
    assert db_from_contrast(np.ones((4, 1))).shape == (4, 1)


@pytest.mark.parametrize("level_db", [-0.1, -20.0, float("nan")])
def test_more_than_full_contrast_is_refused(level_db):
    with pytest.raises(InputError, match=r"^level: got .*; allowed: 0 dB \(full contrast\) and up"):
        contrast_from_db(level_db)


@pytest.mark.parametrize("contrast", [0.0, -0.1, 1.01, float("nan")])
def test_no_contrast_and_too_much_have_no_level(contrast):
    with pytest.raises(InputError, match=r"^contrast: got .*; allowed: above 0 and up to 1"):
        db_from_contrast(contrast)


def test_one_bad_value_among_many_is_refused_and_named():
    """The message names the value that is wrong, not another one."""
    with pytest.raises(InputError, match=r"got 1\.5"):
        db_from_contrast([0.2, 1.5, 0.9])
