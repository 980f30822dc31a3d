"""Luminance readings: what a meter before the screen showed, and the strict reading of a list.

A reading of channel "red" at code v is the light of the whole screen at code values (v, 0, 0), in
cd/m2: it holds the black of the other channels too. "white" at v is the screen at (v, v, v).
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calibration.certificate import ReadingLine
from protocols.errors import InputError
from protocols.field import Floats
from protocols.files import read_text

COLOURS = ("red", "green", "blue")
CHANNELS = (*COLOURS, "white")
HEADER = ["channel", "code", "cd_m2"]
LEAST_LEVELS = 8
BRIGHTEST_CD_M2 = 100_000.0
SURE_FALL = 5.0
UNREPEATED_NOISE = 0.02
UNREPEATED_FLOOR = 0.001


@dataclass(frozen=True)
class Channel:
    """Readings of one channel, sorted by code: `share` of the top code 0..1, and cd/m2; (n,)."""

    name: str
    share: Floats
    cd_m2: Floats


@dataclass(frozen=True)
class Readings:
    """A checked list of readings: the three colours and perhaps white, or white alone."""

    bits: int
    lines: tuple[ReadingLine, ...]

    @property
    def top_code(self) -> int:
        """The highest code value of the display."""
        return (1 << self.bits) - 1

    @property
    def coloured(self) -> bool:
        """Whether the channels were read one by one."""
        return any(line.channel in COLOURS for line in self.lines)

    def channel(self, name: str) -> Channel:
        """Readings of one channel sorted by code; empty if there are none."""
        mine = sorted((r.code, r.cd_m2) for r in self.lines if r.channel == name)
        codes = np.array([code for code, _ in mine], float)
        return Channel(name, codes / self.top_code, np.array([light for _, light in mine]))


def screen_codes(channel: str, code: int) -> tuple[int, int, int]:
    """Code values to put on the screen for a reading.

    >>> screen_codes("green", 40), screen_codes("white", 40)
    ((0, 40, 0), (40, 40, 40))
    """
    _require_channel(channel, "channel")
    red, green, blue = (code if channel in (name, "white") else 0 for name in COLOURS)
    return red, green, blue


def read_readings(path: Path, bits: int) -> Readings:
    """Read luminances typed in by hand: CSV with header channel,code,cd_m2, light in cd/m2.

    Raises InputError, naming file, line and column, for anything wrong in it.
    """
    rows = list(csv.reader(io.StringIO(read_text(path, "readings"))))
    if not rows:
        raise InputError(str(path), "", ",".join(HEADER), "Begin with this header.")
    _check_header(rows[0], str(path))
    lines = [
        _line(row, f"{path}, line {number}", 2**bits - 1)
        for number, row in enumerate(rows[1:], 2)
        if row
    ]
    return checked_readings(lines, bits, str(path))


def checked_readings(lines: Sequence[ReadingLine], bits: int, source: str) -> Readings:
    """The same readings, fit for a fit; raises InputError for what is missing or cannot be.

    Every channel read needs its two ends and at least `LEAST_LEVELS` levels, and must rise beyond
    the noise of its own repeats.
    """
    readings = Readings(bits, tuple(lines))
    for number, line in enumerate(lines, 1):
        where = f"{source}, reading {number}"
        _require_channel(line.channel, f"{where}, channel")
        _require_code(line.code, f"{where}, code", readings.top_code)
        _require_light(line.cd_m2, f"{where}, cd_m2")
    for name in _needed(readings, source):
        _check_channel(readings.channel(name), readings.top_code, f"{source}, channel {name}")
    return readings


def code_means(channel: Channel) -> tuple[Floats, Floats, Floats]:
    """Distinct shares, mean reading of each and number of readings; shape (levels,) each."""
    shares, at, counts = np.unique(channel.share, return_inverse=True, return_counts=True)
    return shares, np.bincount(at, channel.cd_m2) / counts, counts.astype(float)


def repeat_spread(channel: Channel) -> float | None:
    """Relative standard deviation of repeats about their means, pooled; None without repeats.

    Only the brighter half counts, where the meter's own floor does not matter.
    """
    shares, means, counts = code_means(channel)
    at = np.searchsorted(shares, channel.share)
    bright = means[at] >= np.max(means) / 2
    freedom = np.sum(counts[means >= np.max(means) / 2] - 1)
    if freedom < 1:
        return None
    off = channel.cd_m2[bright] / means[at][bright] - 1
    return float(np.sqrt(np.sum(off**2) / freedom))


def _needed(readings: Readings, source: str) -> list[str]:
    read = [name for name in CHANNELS if len(readings.channel(name).share)]
    missing = [name for name in COLOURS if name not in read]
    if missing and read != ["white"]:
        raise InputError(
            f"{source}, channels",
            ", ".join(read),
            "red, green and blue, with or without white, or white alone",
            f"Measure {', '.join(missing)} too.",
        )
    return list(COLOURS) if not missing else ["white"]


def _check_header(header: list[str], source: str) -> None:
    found = [name.strip() for name in header]
    missing = [name for name in HEADER if name not in found]
    if missing:
        raise InputError(
            f"{source}, line 1, column {missing[0]}",
            ",".join(found),
            ",".join(HEADER),
            f"Add the column {missing[0]}; light is in cd/m2.",
        )
    if found != HEADER:
        raise InputError(f"{source}, line 1", ",".join(found), ",".join(HEADER), "Mend the header.")


def _line(row: list[str], where: str, top_code: int) -> ReadingLine:
    if len(row) != len(HEADER):
        raise InputError(
            where, f"{len(row)} columns", f"{len(HEADER)}: {','.join(HEADER)}", "Mend the line."
        )
    channel, code, light = (cell.strip() for cell in row)
    _require_channel(channel, f"{where}, column channel")
    return ReadingLine(
        channel=channel,
        code=_whole(code, f"{where}, column code", top_code),
        cd_m2=_light(light, f"{where}, column cd_m2"),
    )


def _whole(text: str, where: str, top_code: int) -> int:
    try:
        code = int(text)
    except ValueError:
        allowed = f"a whole number 0 to {top_code}"
        raise InputError(where, text, allowed, "Write the code value as digits.") from None
    _require_code(code, where, top_code)
    return code


def _light(text: str, where: str) -> float:
    try:
        light = float(text)
    except ValueError:
        todo = "Write the number alone, with a point; the unit is cd/m2."
        raise InputError(where, text, _LIGHT_ALLOWED, todo) from None
    _require_light(light, where)
    return light


_LIGHT_ALLOWED = f"a number 0 to {BRIGHTEST_CD_M2:g} (cd/m2)"


def _require_channel(name: str, where: str) -> None:
    if name not in CHANNELS:
        raise InputError(where, name, ", ".join(CHANNELS), "Write one of these.")


def _require_code(code: int, where: str, top_code: int) -> None:
    if not 0 <= code <= top_code:
        todo = "Correct the code value, or give the display's bits."
        raise InputError(where, code, f"a whole number 0 to {top_code}", todo)


def _require_light(light: float, where: str) -> None:
    if not (math.isfinite(light) and 0 <= light <= BRIGHTEST_CD_M2):
        raise InputError(where, light, _LIGHT_ALLOWED, "Read the meter again; the unit is cd/m2.")


def _check_channel(channel: Channel, top_code: int, where: str) -> None:
    _require_ends(channel, top_code, where)
    levels = len(np.unique(channel.share))
    if levels < LEAST_LEVELS:
        todo = f"Measure {LEAST_LEVELS - levels} more, spread over the range."
        raise InputError(f"{where}, levels", levels, f"{LEAST_LEVELS} or more code values", todo)
    _require_rising(channel, top_code, where)


def _require_ends(channel: Channel, top_code: int, where: str) -> None:
    for code, share in ((0, 0.0), (top_code, 1.0)):
        if share not in channel.share:
            low, high = np.min(channel.share) * top_code, np.max(channel.share) * top_code
            raise InputError(
                f"{where}, code",
                f"readings from {low:.0f} to {high:.0f}",
                f"readings at both ends, 0 and {top_code}",
                f"Measure code {code}; nothing is guessed beyond what was measured.",
            )


def _require_rising(channel: Channel, top_code: int, where: str) -> None:
    """Raises InputError where the mean at a code is surely below that at an earlier code."""
    shares, means, counts = code_means(channel)
    noise = repeat_spread(channel)
    relative = UNREPEATED_NOISE if noise is None else max(noise, UNREPEATED_FLOOR)
    error = (relative * means + UNREPEATED_FLOOR * np.max(means)) / np.sqrt(counts)
    highest = np.maximum.accumulate(means)
    before = np.array([int(np.argmax(means[: i + 1])) for i in range(len(means))])
    sure = SURE_FALL * np.hypot(error, error[before])
    falls = np.flatnonzero(highest - means > sure)
    if falls.size:
        at = int(falls[0])
        raise InputError(
            f"{where}, code {shares[at] * top_code:.0f}, cd_m2",
            float(means[at]),
            f"{highest[at]:g} or more, as at code {shares[before[at]] * top_code:.0f}",
            "Measure both again; check for mixed-up lines and a screen that was still warming up.",
        )
    if means[-1] - means[0] <= sure[-1]:
        raise InputError(
            f"{where}, cd_m2 at code {top_code}",
            float(means[-1]),
            f"well above {means[0]:g}, as at code 0",
            "Check the meter, its aim, and that the screen shows the channel.",
        )
