"""A protocol in words says what an exam then does."""

from __future__ import annotations

import numpy as np
import pytest
from exam_rigs import SCREEN_17, SCREEN_19, always, changed, drive, perfect, plan_of

from protocols.draws import Stream, bounded_exponential
from protocols.explain import implied, in_words, mean_foreperiod_s


@pytest.mark.parametrize("protocol", [SCREEN_17, SCREEN_19], ids=["screen-17", "screen-19"])
def test_the_fewest_presentations_are_those_of_a_flawless_exam(protocol):
    done = drive(plan_of(9, protocol=protocol), perfect)
    assert len(done.shown) == implied(protocol).fewest == len(protocol.pattern.places) + 14


@pytest.mark.parametrize("protocol", [SCREEN_17, SCREEN_19], ids=["screen-17", "screen-19"])
def test_the_most_presentations_are_those_of_an_eye_that_sees_nothing(protocol):
    done = drive(plan_of(9, protocol=protocol), always("not_seen"))
    assert len(done.shown) == implied(protocol).most == 3 * len(protocol.pattern.places) + 11


def test_the_mean_quiet_time_is_that_of_the_draws():
    drawn = bounded_exponential(1, np.arange(200_000), Stream.GAP, 0.3, 0.8, 0.2)
    assert mean_foreperiod_s(SCREEN_19) == pytest.approx(drawn.mean(), abs=0.001)


def test_the_words_hold_the_numbers_of_the_file():
    said = in_words(SCREEN_19)
    for words in (
        "screen-19: ", "19 places (rings19), out to 23.5 degrees", "7 degree patch of vertical",
        "0.5 cycles per degree", "about 20 Hz", "on for 0.6 s", "from 100 ms to 1 s after onset",
        "0.3 to 0.8 s of quiet", "up to 3 tries, the last at full contrast",
        "at least 8 small targets on the blind spot, 8 of them early, 3 blanks, 3 at full contrast",
        "4 presentations, 3 to be seen", "right first, 20 s rest", "33 presentations",
        "at most 68", "photosensitivity",
    ):  # fmt: skip
        assert words in said, words


def test_other_numbers_give_other_words():
    protocol = changed(
        SCREEN_17,
        "tries = 2\n[stimulus]\norientation_deg = 45.0\nflicker_hz = 15.0\n"
        "[eyes]\nfirst = 'left'\n",
    )
    said = in_words(protocol)
    for words in ("45 degree bars", "about 15 Hz", "left first", "up to 2 tries", "no override"):
        assert words in said, words
