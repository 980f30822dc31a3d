"""The display's transfer: rising, undone by its inverse, refused beyond its ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from calibration.transfer import CODE_STEPS, Transfer, linear, srgb_nominal
from protocols.errors import InputError

NOMINAL = pytest.mark.parametrize("transfer", [srgb_nominal(), linear()], ids=["srgb", "linear"])


def _measured(steps: np.ndarray) -> Transfer:
    """An invented measured display: three channels from positive steps and a glow of black."""
    rising = np.cumsum(steps, axis=1)
    return Transfer(rising / rising[:, -1:], "invented")


measured = st.builds(_measured, arrays(float, (3, 256), elements=st.floats(0.01, 1.0)))
codes = arrays(float, (5, 3), elements=st.floats(0.0, 255.0))


@NOMINAL
def test_luminance_rises_with_every_code(transfer):
    levels = transfer.to_luminance(np.repeat(CODE_STEPS[:, None], 3, axis=1))
    assert np.all(np.diff(levels, axis=0) > 0)
    assert levels[0] == pytest.approx([0, 0, 0])
    assert levels[-1] == pytest.approx([1, 1, 1])


@given(measured, codes)
def test_codes_survive_the_way_to_luminance_and_back(transfer, given_codes):
    assert transfer.to_codes(transfer.to_luminance(given_codes)) == pytest.approx(
        given_codes, abs=1e-7
    )


@given(measured, arrays(float, (4, 3), elements=st.floats(0.05, 1.0)))
def test_luminance_survives_the_way_to_codes_and_back(transfer, wanted):
    wanted = np.maximum(wanted, transfer.luminance[:, 0])
    assert transfer.to_luminance(transfer.to_codes(wanted)) == pytest.approx(wanted, abs=1e-12)


@given(measured, st.integers(0, 254), st.floats(0.0, 1.0))
def test_between_two_codes_the_mean_light_is_a_mixture(transfer, code, share):
    """Dithering shows `code + 1` for a share of the time: on average exactly the straight line."""
    low, high = transfer.luminance[:, code], transfer.luminance[:, code + 1]
    mixed = transfer.to_luminance(np.full(3, code + share))
    assert mixed == pytest.approx((1 - share) * low + share * high, abs=1e-12)


@given(measured)
def test_mean_grey_is_a_whole_code_at_or_just_below_half(transfer):
    for channel, code in enumerate(transfer.mean_codes):
        assert transfer.luminance[channel, code] <= 0.5 < transfer.luminance[channel, code + 1]


@NOMINAL
def test_the_middle_of_the_inverse_table_is_mean_grey_exactly(transfer):
    table = transfer.inverse_table(1025)
    assert table.shape == (1025, 3)
    assert tuple(table[512]) == transfer.mean_codes
    assert np.all(np.diff(table, axis=0) >= 0)


@NOMINAL
@pytest.mark.parametrize("contrast", [0.005, 0.1, 0.5, 0.99])
def test_the_inverse_table_gives_light_proportional_to_contrast(transfer, contrast):
    """Read like the shader does, straight between rows: mean (1 + C) and mean (1 - C)."""
    n = 4097
    table, rows = transfer.inverse_table(n), np.arange(n)
    for sign in (1, -1):
        row = (1 + sign * contrast) * (n // 2)
        codes = [np.interp(row, rows, table[:, c]) for c in range(3)]
        light = transfer.to_luminance(np.array(codes)) / transfer.mean_luminance
        assert light - 1 == pytest.approx(np.full(3, sign * contrast), abs=2e-3 * contrast)


@pytest.mark.parametrize("bad", [-0.001, 255.001, 300.0, np.nan])
def test_codes_beyond_the_ends_are_refused_not_extrapolated(bad):
    with pytest.raises(InputError, match=r"^code: got .*; allowed: 0 to 255\. Lower the contrast"):
        linear().to_luminance([10.0, bad, 10.0])


@pytest.mark.parametrize("bad", [-0.001, 1.001, np.nan])
def test_luminance_beyond_the_ends_is_refused_not_extrapolated(bad):
    with pytest.raises(InputError, match=r"^luminance: got .*; allowed: 0 to 1\. Lower the"):
        linear().to_codes([0.5, 0.5, bad])


def test_darker_than_the_displays_black_is_refused():
    glow = Transfer(0.05 + 0.95 * linear().luminance, "glows")
    assert glow.greatest_contrast == pytest.approx(1 - 0.05 / glow.mean_luminance[0])
    with pytest.raises(InputError, match=r"luminance: got 0\.04; allowed: 0\.05 to 1"):
        glow.to_codes([0.04, 0.5, 0.5])


FLAT = linear().luminance.copy()
FLAT[1, 100] = FLAT[1, 99]
BAD_TABLES = [
    ("a level step", FLAT, "a step down or level"),
    ("too few codes", np.linspace(0, 1, 100)[None].repeat(3, 0), "shape (3, 256)"),
    ("one channel", np.linspace(0, 1, 256), "shape (3, 256)"),
    ("a maximum that is not 1", linear().luminance * 0.9, "0 or more at code 0, 1 at code 255"),
    ("a black below zero", linear().luminance * 1.1 - 0.1, "0 or more at code 0"),
    ("not a number", linear().luminance * np.nan, "a step down or level"),
]


@pytest.mark.parametrize(
    ("table", "words"), [row[1:] for row in BAD_TABLES], ids=[row[0] for row in BAD_TABLES]
)
def test_a_table_that_does_not_rise_from_black_to_one_is_refused(table, words):
    with pytest.raises(InputError) as refused:
        Transfer(table, "invented")
    assert words in str(refused.value)
    assert "Measure the display again." in str(refused.value)


def test_a_table_cannot_be_changed_afterwards():
    table = np.array(linear().luminance)
    transfer = Transfer(table, "invented")
    table[0, 5] = 0.9
    assert transfer.luminance[0, 5] == pytest.approx(5 / 255)
    with pytest.raises(ValueError, match="read-only"):
        transfer.luminance[0, 5] = 0.9


@pytest.mark.parametrize("n", [0, 1, 2, 1024])
def test_an_inverse_table_without_a_middle_is_refused(n):
    with pytest.raises(InputError, match=f"n: got {n}; allowed: an odd number from 3"):
        linear().inverse_table(n)
