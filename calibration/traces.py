"""Photodiode traces: light over time from a table or from an audio input, checked before use.

A table is CSV with a header: `time_s,value`, or `value` alone with the sampling rate stated. An
audio file is WAV with 16, 24 or 32 bits, one channel or a named one. An audio input passes no
constant level (it is AC-coupled): its traces say so, and steps in them sag.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from calibration.audio import read_samples
from protocols.errors import InputError
from protocols.field import Floats
from protocols.files import read_text

LEAST_SAMPLES = 200
EVEN_WITHIN = 0.25
FLAT_RUN = 8
FULL_SCALE_MARGIN = 1e-3
SAMPLES_A_CYCLE = 200


@dataclass(frozen=True)
class Trace:
    """Light over time, evenly sampled.

    `value` shape (n,), proportional to light above `dark_value` (what the photodiode gives in the
    dark); `ac_coupled` when the constant level was lost on the way.
    """

    value: Floats = field(repr=False)
    rate_hz: float
    source: str
    ac_coupled: bool = False
    dark_value: float = 0.0

    @property
    def time_s(self) -> Floats:
        """Seconds since the first sample, shape (n,)."""
        return np.arange(len(self.value)) / self.rate_hz

    @property
    def seconds(self) -> float:
        """Length of the trace."""
        return len(self.value) / self.rate_hz


def read_trace(
    path: Path,
    rate_hz: float | None = None,
    channel: str | None = None,
    full_scale: tuple[float, float] | None = None,
    dark_value: float = 0.0,
) -> Trace:
    """Read a trace from .csv or .wav by its ending; see `csv_trace` and `wav_trace`.

    `full_scale` and `dark_value` are in the trace's own unit. Raises InputError for another ending.
    """
    ending = path.suffix.lower()
    if ending == ".csv":
        return csv_trace(path, rate_hz, full_scale, dark_value)
    if ending == ".wav":
        return wav_trace(path, channel)
    raise InputError("trace", str(path), "a file ending in .csv or .wav", "Convert it to one.")


def sampled_trace(
    time_s: ArrayLike, value: ArrayLike, source: str, dark_value: float = 0.0
) -> Trace:
    """A trace from times and values as an instrument gave them, (n,) each.

    Raises InputError for too few samples, values that are not numbers, and uneven sampling.
    """
    times, light = np.asarray(time_s, float), np.asarray(value, float)
    if times.shape != light.shape or light.ndim != 1:
        shapes = f"shapes {times.shape} and {light.shape}"
        raise InputError(source, shapes, "a time for each value", "Record the trace again.")
    _check_samples(np.where(np.isfinite(times), light, np.nan), source)
    return Trace(light, _even_rate_hz(times, source), source, False, dark_value)


def csv_trace(
    path: Path,
    rate_hz: float | None = None,
    full_scale: tuple[float, float] | None = None,
    dark_value: float = 0.0,
) -> Trace:
    """Read a table: columns time_s and value, or value alone with `rate_hz` in samples a second.

    `full_scale` is the lowest and the highest value the recorder can give. Without it a trace
    that is perfectly flat at an end counts as clipped. Raises InputError for an empty, unevenly
    sampled, too short or clipped table and for anything that is not a number.
    """
    source = str(path)
    header, rows = _table(read_text(path, "trace"), source)
    columns = _numbers(rows, header, source)
    value = columns[:, header.index("value")]
    _check_samples(value, source)
    found_hz = _rate_hz(columns, header, rate_hz, source)
    refuse_clipped(value, full_scale, source)
    return Trace(value, found_hz, source, False, dark_value)


def wav_trace(path: Path, channel: str | None = None) -> Trace:
    """Read an audio file; values are shares of full scale, -1 to 1, and AC-coupled.

    `channel` is `left`, `right` or a number from 1; it is needed when there is more than one.
    Raises InputError for what is no such file, is empty or too short, or was clipped.
    """
    samples, rate_hz = read_samples(path, channel)
    _check_samples(samples, str(path))
    refuse_clipped(samples, (-1.0, 1.0), str(path))
    return Trace(samples, rate_hz, str(path), True)


def refuse_slow_sampling(trace: Trace, flicker_hz: float) -> None:
    """Raise InputError unless the trace has at least 200 samples a cycle of flicker.

    A frame-held waveform has overtones up to any frequency, falling as 1/frequency; those about
    the sampling rate fold back onto the flicker. With n samples a cycle the first of them has
    1/(n - 1) of the fundamental's amplitude even for a panel without any delay: 0.5 % for 200.
    """
    needed_hz = SAMPLES_A_CYCLE * flicker_hz
    if trace.rate_hz < needed_hz * (1 - 1e-9):
        raise InputError(
            f"{trace.source}, sampling rate in Hz",
            trace.rate_hz,
            f"{needed_hz:g} or more for flicker at {flicker_hz:g} Hz",
            "Record the trace again with more samples a second.",
        )


def refuse_clipped(value: Floats, full_scale: tuple[float, float] | None, source: str) -> None:
    """Raise InputError when a trace reached the end of the recorder's range.

    Values of shape (n,).
    """
    if full_scale is not None:
        _refuse_full_scale(value, full_scale, source)
        return
    for end, extreme in (("lowest", np.min(value)), ("highest", np.max(value))):
        if longest_run(value == extreme) >= FLAT_RUN:
            raise InputError(
                source,
                f"{float(extreme):g}, the {end} value, {FLAT_RUN} times or more in a row",
                "a trace that is not clipped",
                "Turn the gain down and record again; or state the recorder's full scale, so "
                "that a level held can be told from a clipped one.",
            )


def longest_run(flags: Floats) -> int:
    """Length of the longest run of true values, shape (n,).

    A count of samples.

    >>> longest_run(np.array([1, 0, 1, 1, 0]))
    2
    """
    padded = np.concatenate([[0], np.asarray(flags).astype(int), [0]])
    turns = np.flatnonzero(np.diff(padded))
    return int(np.max(turns[1::2] - turns[::2], initial=0))


def _refuse_full_scale(value: Floats, full_scale: tuple[float, float], source: str) -> None:
    low, high = full_scale
    margin = FULL_SCALE_MARGIN * (high - low)
    at_end = int(np.sum((value <= low + margin / 2) | (value >= high - margin / 2)))
    if at_end:
        raise InputError(
            source,
            f"{at_end} of {len(value)} samples at the end of the range {low:g} to {high:g}",
            "a trace that is not clipped",
            "Turn the gain or the light down and record again.",
        )


def _table(text: str, source: str) -> tuple[list[str], list[list[str]]]:
    rows = [[cell.strip() for cell in row] for row in csv.reader(StringIO(text)) if row]
    if len(rows) < 2:
        raise InputError(source, "an empty trace", "a header and rows", "Record it again.")
    header = rows[0]
    if sorted(header) not in (["time_s", "value"], ["value"]):
        raise InputError(
            f"{source}, header",
            ",".join(header),
            "time_s,value or value",
            "Name the columns so in the first line.",
        )
    return header, rows[1:]


def _numbers(rows: list[list[str]], header: list[str], source: str) -> Floats:
    for number, row in enumerate(rows, start=2):
        if len(row) != len(header) or not all(_is_number(cell) for cell in row):
            raise InputError(
                f"{source}, row {number}",
                ",".join(row),
                f"{len(header)} finite numbers",
                "Mend the row or record the trace again.",
            )
    return np.array(rows, float)


def _is_number(cell: str) -> bool:
    try:
        return bool(np.isfinite(float(cell)))
    except ValueError:
        return False


def _rate_hz(columns: Floats, header: list[str], stated_hz: float | None, source: str) -> float:
    if "time_s" not in header:
        if stated_hz is None or not stated_hz > 0:
            raise InputError(
                f"{source}, sampling rate in Hz",
                "" if stated_hz is None else stated_hz,
                "a number above 0",
                "State the rate, or add a time_s column.",
            )
        return float(stated_hz)
    return _even_rate_hz(columns[:, header.index("time_s")], source)


def _even_rate_hz(time_s: Floats, source: str) -> float:
    step_s = (time_s[-1] - time_s[0]) / (len(time_s) - 1)
    steps = np.arange(len(time_s))
    if not step_s > 0:
        raise InputError(f"{source}, time_s", "times that go back", "rising times", "Sort it.")
    away = np.abs(time_s - time_s[0] - steps * step_s) / step_s
    if np.max(away) > EVEN_WITHIN:
        raise InputError(
            f"{source}, time_s, row {int(np.argmax(away)) + 2}",
            f"{np.max(away):.3g} steps from its even place",
            f"up to {EVEN_WITHIN:g}",
            "Record at a constant rate, or resample the trace.",
        )
    return float(1 / step_s)


def _check_samples(value: Floats, source: str) -> None:
    if len(value) < LEAST_SAMPLES:
        raise InputError(
            f"{source}, number of samples",
            len(value),
            f"{LEAST_SAMPLES} or more",
            "Record it for longer.",
        )
    if not np.all(np.isfinite(value)):
        raise InputError(source, "a value that is no number", "numbers only", "Record it again.")
