"""Reading a list of luminances typed in by hand: every mistake has its own clear refusal."""

from __future__ import annotations

import re

import numpy as np
import pytest

from calibration.certificate import ReadingLine
from calibration.readings import (
    checked_readings,
    code_means,
    read_readings,
    repeat_spread,
    screen_codes,
)
from protocols.errors import InputError

CODES = [0, 32, 64, 96, 128, 160, 192, 224, 255]
PEAKS = {"red": 50.0, "green": 170.0, "blue": 20.0}


def row(channel: str, code: int, peak: float) -> str:
    return f"{channel},{code},{0.3 + peak * (code / 255) ** 2.2:.4f}"


def good_lines() -> list[str]:
    rows = [row(channel, code, peak) for channel, peak in PEAKS.items() for code in CODES]
    return ["channel,code,cd_m2", *rows]


@pytest.fixture
def file(tmp_path):
    def write(lines: list[str]):
        path = tmp_path / "readings.csv"
        path.write_text("\n".join(lines) + "\n")
        return path

    return write


def test_a_good_file_is_read_whole(file):
    readings = read_readings(file(good_lines()), 8)
    assert len(readings.lines) == 27
    green = readings.channel("green")
    assert green.share[-1] == 1.0
    assert green.cd_m2[-1] == pytest.approx(170.3)
    assert readings.coloured


def test_channels_are_sorted_by_code_whatever_the_order_of_the_file(file):
    lines = good_lines()
    shuffled = [lines[0], *np.random.default_rng(3).permutation(lines[1:])]
    assert np.array_equal(
        read_readings(file(shuffled), 8).channel("blue").cd_m2,
        read_readings(file(lines), 8).channel("blue").cd_m2,
    )


def test_blank_lines_and_spaces_do_no_harm(file):
    lines = [line.replace(",", " , ") for line in good_lines()]
    assert len(read_readings(file([*lines, "", ""]), 8).lines) == 27


def test_codes_of_ten_bits_are_shares_of_1023(file):
    lines = [re.sub(r",(\d+),", lambda m: f",{int(m[1]) * 1023 // 255},", s) for s in good_lines()]
    assert read_readings(file(lines), 10).channel("red").share[-1] == 1.0


def changed(number: int, text: str) -> list[str]:
    lines = good_lines()
    lines[number - 1] = text
    return lines


MISTAKES = {
    "unknown channel": (
        changed(3, "purple,32,1.0"),
        r'readings.csv, line 3, column channel: got "purple"; allowed: red, green, blue, white',
    ),
    "no number": (
        changed(4, "red,64,bright"),
        r'line 4, column cd_m2: got "bright"; allowed: a number 0 to 100000 \(cd/m2\)',
    ),
    "a unit in the cell": (changed(4, "red,64,2.5 cd/m2"), r"point; the unit is cd/m2"),
    "negative": (changed(5, "red,96,-0.1"), r"line 5, column cd_m2: got -0.1; allowed: a number 0"),
    "not a number": (changed(5, "red,96,nan"), r"line 5, column cd_m2: got nan; allowed: a number"),
    "endless": (changed(5, "red,96,inf"), r"line 5, column cd_m2: got inf"),
    "code above": (
        changed(6, "red,256,9.0"),
        r"line 6, column code: got 256; allowed: a whole number 0 to 255",
    ),
    "code below": (changed(6, "red,-1,9.0"), r"line 6, column code: got -1; allowed: a whole"),
    "code in parts": (changed(6, "red,1.5,9.0"), r'line 6, column code: got "1.5"; allowed: a w'),
    "too many cells": (changed(7, "red,1,9.0,x"), r'line 7: got "4 columns"; allowed: 3: chan'),
    "missing column": (
        changed(1, "channel,code"),
        r'line 1, column cd_m2: got "channel,code"; allowed: channel,code,cd_m2. Add the column',
    ),
    "columns in another order": (changed(1, "code,channel,cd_m2"), r"line 1: got .* Mend the head"),
    "too few levels": (
        [line for line in good_lines() if not re.match(r"red,(32|64),", line)],
        r"channel red, levels: got 7; allowed: 8 or more code values. Measure 1 more",
    ),
    "no top": (
        [line for line in good_lines() if not line.startswith("blue,255")],
        r"channel blue, code: got .readings from 0 to 224.; allowed: readings at both ends, 0 and "
        r"255. Measure code 255",
    ),
    "no bottom": (
        [line for line in good_lines() if not line.startswith("green,0,")],
        r"channel green, code: got .readings from 32 to 255.; allowed: .* Measure code 0",
    ),
    "a fall beyond noise": (
        changed(9, "red,224,20.0"),
        r"channel red, code 224, cd_m2: got 20; allowed: 27.0\d+ or more, as at code 192",
    ),
    "no rise": (
        [re.sub(r"^(blue,\d+),.*", r"\1,0.3", line) for line in good_lines()],
        r"channel blue, cd_m2 at code 255: got 0.3; allowed: well above 0.3, as at code 0",
    ),
    "a channel left out": (
        [line for line in good_lines() if not line.startswith("blue")],
        r'channels: got "red, green"; allowed: red, green and blue.* Measure blue too',
    ),
    "nothing": ([], r"Begin with this header|column channel"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_refused_with_place_value_and_what_is_allowed(file, name):
    lines, message = MISTAKES[name]
    with pytest.raises(InputError, match=message) as caught:
        read_readings(file(lines), 8)
    assert "readings.csv" in str(caught.value)
    assert caught.value.todo


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"readings: got .*none.csv.*a file that exists"):
        read_readings(tmp_path / "none.csv", 8)


def test_a_fall_within_the_noise_of_repeats_is_no_mistake():
    """8 % noise: neighbours may well come out in the wrong order."""
    rng = np.random.default_rng(8)
    lines = [
        ReadingLine(
            channel="white",
            code=code,
            cd_m2=(0.5 + 100 * (code / 255) ** 2.2) * (1 + 0.08 * rng.standard_normal()),
        )
        for code in [*range(0, 255, 5), 255]
        for _ in range(3)
    ]
    means = code_means(checked_readings(lines, 8, "meter").channel("white"))[1]
    assert np.any(np.diff(means) < 0)


def test_spread_of_repeats_is_the_noise():
    rng = np.random.default_rng(4)
    lines = [
        ReadingLine(channel="white", code=code, cd_m2=float(light))
        for code in range(0, 256, 15)
        for light in (0.2 + 90 * code / 255) * (1 + 0.02 * rng.standard_normal(40))
    ]
    spread = repeat_spread(checked_readings(lines, 8, "meter").channel("white"))
    assert spread == pytest.approx(0.02, rel=0.1)


def test_white_alone_will_do(file):
    lines = ["channel,code,cd_m2", *(row("white", code, 240.0) for code in CODES)]
    assert not read_readings(file(lines), 8).coloured


def test_colours_are_shown_alone_and_white_on_all():
    assert screen_codes("red", 9) == (9, 0, 0)
    assert screen_codes("blue", 9) == (0, 0, 9)
    assert screen_codes("white", 9) == (9, 9, 9)
    with pytest.raises(InputError, match='channel: got "grey"'):
        screen_codes("grey", 9)
