"""Random numbers by address: a draw depends on seed, index and stream and on nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from protocols.draws import Stream, bounded_exponential, exponential, normal, pick, uniform

seeds = st.integers(0, 2**32 - 1)
indices = st.integers(0, 2000)
streams = st.sampled_from(list(Stream))
N = 20_000
ALPHA = 1e-4
"""Fixed seeds, so these never flicker; the level says how odd the draws would have to be."""


@given(seeds, indices, streams)
def test_the_same_address_gives_the_same_draw_alone_or_in_an_array(seed, index, stream):
    alone = float(uniform(seed, index, stream))
    assert 0 <= alone < 1
    assert uniform([seed, seed + 1], index, stream)[0] == alone
    assert uniform(seed, [index + 3, index], stream)[1] == alone


@given(seeds, indices)
def test_streams_of_one_presentation_differ(seed, index):
    drawn = [float(uniform(seed, index, stream)) for stream in Stream]
    assert len(set(drawn)) == len(Stream)


@pytest.mark.parametrize("stream", list(Stream))
def test_draws_are_even_over_indices(stream):
    assert stats.kstest(uniform(11, np.arange(N), stream), "uniform").pvalue > ALPHA


def test_draws_are_even_over_seeds():
    """Seeds 0, 1, 2, ... are what people type: neighbours must not resemble each other."""
    drawn = uniform(np.arange(N), 0, Stream.PLACE)
    assert stats.kstest(drawn, "uniform").pvalue > ALPHA
    assert abs(np.corrcoef(drawn[:-1], drawn[1:])[0, 1]) < 4 / np.sqrt(N)


PAIRS = [
    ("neighbouring indices", (3, np.arange(N), Stream.GAP), (3, np.arange(1, N + 1), Stream.GAP)),
    ("two streams", (3, np.arange(N), Stream.GAP), (3, np.arange(N), Stream.PLACE)),
    ("two seeds", (3, np.arange(N), Stream.GAP), (4, np.arange(N), Stream.GAP)),
    ("seed for index", (np.arange(N), 5, Stream.GAP), (5, np.arange(N), Stream.GAP)),
]


@pytest.mark.parametrize(("name", "one", "other"), PAIRS, ids=[name for name, _, _ in PAIRS])
def test_draws_of_different_addresses_are_independent(name, one, other):
    """Chi-squared over a 10 by 10 table of pairs."""
    table, _, _ = np.histogram2d(uniform(*one), uniform(*other), bins=10, range=[[0, 1], [0, 1]])
    assert stats.chisquare(table.ravel()).pvalue > ALPHA


def test_normal_and_exponential_draws_follow_their_laws():
    index = np.arange(N)
    assert stats.kstest(normal(5, index, Stream.GAZE_X), "norm").pvalue > ALPHA
    assert stats.kstest(exponential(5, index, Stream.REACTION_TAIL), "expon").pvalue > ALPHA
    assert np.all(np.isfinite(normal(5, index, Stream.GAZE_X)))


def _foreperiods(n: int = N) -> np.ndarray:
    return bounded_exponential(2024, np.arange(n), Stream.GAP, 0.3, 0.8, 0.2)


@given(seeds, indices, st.floats(0.1, 2.0), st.floats(0.05, 3.0), st.floats(0.01, 5.0))
def test_foreperiods_keep_within_their_bounds(seed, index, low, span, decay):
    drawn = float(bounded_exponential(seed, index, Stream.GAP, low, low + span, decay))
    assert low <= drawn <= low + span + 1e-12


def test_foreperiods_follow_the_truncated_exponential():
    law = stats.truncexpon(b=(0.8 - 0.3) / 0.2, loc=0.3, scale=0.2)
    assert stats.kstest(_foreperiods(), law.cdf).pvalue > ALPHA


def test_foreperiods_do_not_age():
    """Untruncated, the hazard is 1 / decay all along, so waiting tells nothing about what is left.

    The hazard of the bounded draw, less what the bound itself adds (1 / (1 - exp(-(left)/decay))),
    is measured in five bins; an even draw from 0.3 to 0.8 s would climb from 2 to 20 a second.
    """
    drawn = _foreperiods(200_000)
    for start in (0.30, 0.38, 0.46, 0.54, 0.62):
        left = drawn[drawn >= start] - start
        within = np.mean(left < 0.08)
        law = -np.expm1(-0.08 / 0.2) / -np.expm1(-(0.8 - start) / 0.2)
        assert within == pytest.approx(law, abs=4 * np.sqrt(0.25 / len(left)))


def test_foreperiods_are_not_correlated_from_one_to_the_next():
    drawn = _foreperiods()
    assert abs(np.corrcoef(drawn[:-1], drawn[1:])[0, 1]) < 4 / np.sqrt(N)


@given(
    st.lists(st.booleans(), min_size=1, max_size=19).filter(any),
    st.floats(0.0, 1.0, exclude_max=True),
)
def test_pick_only_picks_what_is_open(mask, u):
    assert mask[int(pick(u, np.array(mask)))]


def test_pick_is_even_over_what_is_open():
    mask = np.array([False, True, True, False, True])
    picked = pick(uniform(9, np.arange(9000), Stream.PLACE), np.tile(mask, (9000, 1)))
    counts = np.bincount(picked, minlength=5)
    assert counts[[0, 3]].sum() == 0
    assert stats.chisquare(counts[[1, 2, 4]]).pvalue > ALPHA
