"""Samples of one channel of a WAV file, as shares of full scale.

Files of 16, 24 and 32 bits are read, whole numbers or floating point. What may not live here: any
judgement of the samples.
"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.io import wavfile

from protocols.errors import InputError
from protocols.field import Floats

FULL = {"int16": 2.0**15, "int32": 2.0**31, "float32": 1.0}
NAMED = {"left": 0, "right": 1}


def read_samples(path: Path, channel: str | None) -> tuple[Floats, float]:
    """One channel, shape (n,), -1 to 1, and the samples a second; raises InputError."""
    rate_hz, data = _read(path)
    kind = str(data.dtype)
    if kind not in FULL:
        raise InputError(
            f"{path}, samples", kind, "16, 24 or 32 bits", "Record it again with 16 bits or more."
        )
    if data.size == 0:
        raise InputError(str(path), "an empty trace", "samples", "Record it again.")
    columns = data.reshape(len(data), -1)
    return columns[:, _column(path, columns.shape[1], channel)] / FULL[kind], float(rate_hz)


def _read(path: Path) -> tuple[int, NDArray[Any]]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)
            rate_hz, data = wavfile.read(path)
    except FileNotFoundError:
        raise InputError("trace", str(path), "a file that exists", "Check the path.") from None
    except (OSError, ValueError, EOFError) as error:
        raise InputError(
            str(path), str(error), "a WAV file of plain samples", "Record it again as WAV."
        ) from None
    return int(rate_hz), np.asarray(data)


def _column(path: Path, channels: int, channel: str | None) -> int:
    if channel is None and channels == 1:
        return 0
    names = ["left", "right"][:channels] + [str(n + 1) for n in range(channels)]
    if channel not in names:
        raise InputError(
            f"{path}, channel",
            channel or "",
            ", ".join(names),
            "Name the channel the photodiode is on.",
        )
    return NAMED[channel] if channel in NAMED else int(channel) - 1
