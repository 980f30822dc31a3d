"""Ways to show light between two code values, as numbers: the window's own and its rivals.

The window's shader compares each code's fraction with a threshold: a hash of the pixel, moved on
by a golden step from frame to frame, so that every pixel alone is right over a few frames. Its
formulas here are those of `modulation.frag`, `patch.frag` and `patch.py`, in float32 where those
have it. The rivals are plain random noise (Allard & Faubert 2008, Behav Res Methods 40:735) and
error diffusion (Floyd & Steinberg 1976, Proc SID 17:75), and for scale plain rounding.

Frames have shape (frames, h, w, 3), bottom row first; `amplitudes` (frames,) are the contrast
times each frame's factor, `modulation` (h, w) is envelope times carrier.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.transfer import Transfer
from protocols.field import Floats

CODE_ROWS = 4097
THRESHOLDS = 65536
GOLDEN = (math.sqrt(5) - 1) / 2
SHADER_DITHER = "pixel hash with golden steps from frame to frame"
Codes = NDArray[np.uint8]
Singles = NDArray[np.float32]
Dither = Callable[[Floats, Floats, Transfer, int, int], Codes]


def mixed(values: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """A bijective mix of 32 bits by xor-shifts and odd multipliers; any shape."""
    x = values ^ (values >> np.uint32(16))
    x = x * np.uint32(0x7FEB352D)
    x = x ^ (x >> np.uint32(15))
    x = x * np.uint32(0x846CA68B)
    return np.asarray(x ^ (x >> np.uint32(16)), np.uint32)


def pixel_thresholds(width_px: int, height_px: int, seed: int) -> Singles:
    """First threshold of each pixel of a patch, 24 bits below 1; shape (h, w).

    The upper 16 bits round the code, the lower 8 the row of the code table: they are apart, since
    a threshold that did both would favour contrast, by 4 % at 0.03 %.
    """
    x, y = np.meshgrid(np.arange(width_px, dtype=np.uint32), np.arange(height_px, dtype=np.uint32))
    with np.errstate(over="ignore"):
        hashed = mixed(x + mixed(y + mixed(np.full_like(y, seed))))
    return (hashed >> np.uint32(8)).astype(np.float32) / np.float32(256 * THRESHOLDS)


def dither_step(frames_per_cycle: int) -> float:
    """How far the thresholds move from frame to frame, as a share of one code.

    >>> round(dither_step(3) * 3 % 1.0 - GOLDEN, 12)
    0.0
    """
    turns = round((frames_per_cycle - 1) * GOLDEN)
    return (GOLDEN + turns) / frames_per_cycle


def frame_shift(frames_drawn: int, step: float) -> float:
    """Shift of the thresholds after so many frames, a multiple of 1/65536 below 1.

    Both are shares of one code.
    """
    return math.floor(frames_drawn * step % 1.0 * THRESHOLDS) / THRESHOLDS


def shader_frame(
    modulation: Singles, amplitude: float, thresholds: Singles, shift: float, table: Singles
) -> Codes:
    """Codes of one frame as the shader draws it, shape (h, w, 3).

    `table` is `Transfer.inverse_table(CODE_ROWS)`, shape (rows, 3).
    """
    one, half = np.float32(1), np.float32((len(table) - 1) / 2)
    bits = thresholds * np.float32(THRESHOLDS)
    moved = _fraction(np.floor(bits) / np.float32(THRESHOLDS) + np.float32(shift))
    row = (one + np.float32(amplitude) * modulation) * half
    drawn = (row + _fraction(bits)).astype(np.int32)
    return np.asarray(np.floor(table[drawn] + moved[..., None]), np.uint8)


def shader_dither(
    amplitudes: Floats, modulation: Floats, transfer: Transfer, frames_per_cycle: int, seed: int
) -> Codes:
    """All frames of a presentation as the window draws them, its first one being frame 0.

    Amplitudes (frames,) and modulation (h, w) as shares of mean grey; codes (frames, h, w, 3).
    """
    height, width = modulation.shape
    thresholds = pixel_thresholds(width, height, seed)
    table = transfer.inverse_table(CODE_ROWS)
    step, single = dither_step(frames_per_cycle), modulation.astype(np.float32)
    return np.stack(
        [
            shader_frame(single, float(amplitude), thresholds, frame_shift(frame, step), table)
            for frame, amplitude in enumerate(amplitudes)
        ]
    )


def random_dither(
    amplitudes: Floats, modulation: Floats, transfer: Transfer, frames_per_cycle: int, seed: int
) -> Codes:
    """A fresh random threshold for every pixel of every frame, the same for the channels."""
    codes = wanted_codes(amplitudes, modulation, transfer)
    thresholds = np.random.default_rng(seed).random(codes.shape[:-1])
    return np.floor(codes + thresholds[..., None]).astype(np.uint8)


def rounding(
    amplitudes: Floats, modulation: Floats, transfer: Transfer, frames_per_cycle: int, seed: int
) -> Codes:
    """No dither: the nearest code. Shapes as in `shader_dither`."""
    return np.floor(wanted_codes(amplitudes, modulation, transfer) + 0.5).astype(np.uint8)


def error_diffusion(
    amplitudes: Floats, modulation: Floats, transfer: Transfer, frames_per_cycle: int, seed: int
) -> Codes:
    """Each pixel's rounding error handed on to its neighbours, within one frame.

    The first row starts from a random error, without which flat areas show the same worm-like
    pattern in every frame.
    """
    codes = wanted_codes(amplitudes, modulation, transfer)
    frames, height, width, channels = codes.shape
    carried = np.zeros((2, frames, width + 2, channels))
    first = np.random.default_rng(seed).random((frames, width, 1)) - 0.5
    carried[0, :, 1:-1] = first
    drawn = np.empty(codes.shape, np.uint8)
    for row in range(height):
        drawn[:, row] = _diffused_row(codes[:, row], carried)
        carried = np.stack([carried[1], np.zeros_like(carried[1])])
    return drawn


def _diffused_row(wanted: Floats, carried: Floats) -> Codes:
    """Codes of one row (frames, w, 3); `carried` holds this row's and the next row's errors."""
    drawn = np.empty(wanted.shape, np.uint8)
    for column in range(wanted.shape[1]):
        asked = wanted[:, column] + carried[0, :, column + 1]
        drawn[:, column] = np.floor(asked + 0.5)
        error = asked - drawn[:, column]
        carried[0, :, column + 2] += error * (7 / 16)
        for offset, weight in ((0, 3 / 16), (1, 5 / 16), (2, 1 / 16)):
            carried[1, :, column + offset] += error * weight
    return drawn


def wanted_codes(amplitudes: ArrayLike, modulation: Floats, transfer: Transfer) -> Floats:
    """Codes, not whole, of every pixel and frame; raises InputError beyond the display's range."""
    swing = np.asarray(amplitudes, float)[:, None, None] * modulation
    return transfer.to_codes((1 + swing[..., None]) * transfer.mean_luminance)


def _fraction(values: NDArray[Any]) -> Singles:
    return np.asarray(values - np.floor(values), np.float32)


DITHERS: dict[str, Dither] = {
    "shader": shader_dither,
    "random": random_dither,
    "diffusion": error_diffusion,
    "rounding": rounding,
}
