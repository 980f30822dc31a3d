"""The display's transfer: which luminance each code value gives, and which code a luminance needs.

The table holds the relative luminance (1 is the maximum) of each whole code, per channel, so that
a measured display plugs in as well as a nominal one. Between whole codes the transfer is taken as
straight: that is what dithering between two neighbouring codes delivers on average, so the code
this inverse returns gives the wanted mean luminance exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from protocols.errors import InputError
from protocols.field import Floats

CODES = 256
CODE_STEPS = np.arange(CODES, dtype=float)


@dataclass(frozen=True)
class Transfer:
    """Relative luminance of whole codes 0..255 per channel, shape (3, 256), maximum 1.

    `source` says where the numbers come from. Raises InputError unless every channel rises.
    """

    luminance: Floats = field(repr=False)
    source: str

    def __post_init__(self) -> None:
        table = np.array(self.luminance, float)
        _check_table(table)
        table.setflags(write=False)
        object.__setattr__(self, "luminance", table)

    def to_luminance(self, codes: ArrayLike) -> Floats:
        """Relative luminance of code values 0..255, whole or not; shape (..., 3) in and out."""
        codes_in = _within("code", np.asarray(codes, float), 0.0, CODES - 1.0)
        channels = [
            np.interp(codes_in[..., c], CODE_STEPS, self.luminance[c]) for c in range(3)
        ]
        return np.stack(channels, axis=-1)

    def to_codes(self, luminance: ArrayLike) -> Floats:
        """Code values (floats) of relative luminances; shape (..., 3) in and out."""
        wanted = np.asarray(luminance, float)
        channels = [
            np.interp(
                _within("luminance", wanted[..., c], table[0], 1.0), table, CODE_STEPS
            )
            for c, table in enumerate(self.luminance)
        ]
        return np.stack(channels, axis=-1)

    @property
    def mean_codes(self) -> tuple[int, int, int]:
        """Mean grey: per channel the highest whole code of at most half the maximum luminance."""
        red, green, blue = codes_of_half(self.luminance)
        return red, green, blue

    @property
    def mean_luminance(self) -> Floats:
        """Relative luminance of mean grey, shape (3,)."""
        return np.array([self.luminance[c, code] for c, code in enumerate(self.mean_codes)])

    @property
    def greatest_contrast(self) -> float:
        """Largest Michelson contrast about mean grey that the display can show, up to 1."""
        return float(np.min(1 - self.luminance[:, 0] / self.mean_luminance))

    def step_contrast(self, code: int) -> float:
        """Michelson contrast between the codes just above and below `code`, the largest channel's.

        >>> round(linear().step_contrast(127), 6)
        0.007874
        """
        low, high = self.luminance[:, code - 1], self.luminance[:, code + 1]
        return float(np.max((high - low) / (high + low)))

    def inverse_table(self, n: int) -> NDArray[np.float32]:
        """Code values for luminances evenly from 0 to twice the mean, shape (n, 3); n is odd.

        The middle row is mean grey, a whole code exactly. Rows darker than the display's black
        repeat code 0; only contrasts above `greatest_contrast`, which are refused, reach them.
        """
        if n < 3 or n % 2 == 0:
            raise InputError("n", n, "an odd number from 3", "The middle row must be mean grey.")
        half = n // 2
        wanted = (np.arange(n) / half)[:, None] * self.mean_luminance
        return self.to_codes(np.maximum(wanted, self.luminance[:, 0])).astype(np.float32)


def srgb_nominal() -> Transfer:
    """The transfer of IEC 61966-2-1 (sRGB), the same for the three channels.

    >>> round(float(srgb_nominal().luminance[0, 128]), 6)
    0.215861
    """
    coded = CODE_STEPS / (CODES - 1)
    curve = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return Transfer(np.tile(curve, (3, 1)), "sRGB nominal, IEC 61966-2-1")


def linear() -> Transfer:
    """A display whose luminance is proportional to the code.

    >>> linear().mean_codes
    (127, 127, 127)
    """
    return Transfer(np.tile(CODE_STEPS / (CODES - 1), (3, 1)), "linear")


def codes_of_half(luminance: Floats) -> tuple[int, ...]:
    """Mean grey of relative tables (k, 256): per row the highest code of at most half of 1.

    Raises InputError where that is no code above 0: no grating could be darker than its mean.
    """
    codes = tuple(int(np.searchsorted(row, 0.5, "right")) - 1 for row in luminance)
    for row, code in zip(luminance, codes, strict=True):
        if code < 1:
            raise InputError(
                "light at codes 0 and 1, as shares of the maximum",
                f"{row[0]:.3g} and {row[1]:.3g}",
                "at most half, so that mean grey lies above black",
                "Darken the room, check the display's contrast setting, and measure again.",
            )
    return codes


def _check_table(table: NDArray[Any]) -> None:
    todo = "Measure the display again."
    if table.shape != (3, CODES):
        raise InputError("luminance", str(table.shape), f"shape (3, {CODES})", todo)
    if not np.all(np.diff(table, axis=1) > 0):
        raise InputError("luminance", "a step down or level", "rising with every code", todo)
    if np.any(table[:, 0] < 0) or not np.allclose(table[:, -1], 1.0, rtol=0, atol=1e-12):
        raise InputError("luminance", "other ends", "0 or more at code 0, 1 at code 255", todo)


def _within(name: str, values: Floats, low: float, high: float) -> Floats:
    for extreme in (np.min(values), np.max(values)):
        if not low <= extreme <= high:
            todo = "Lower the contrast or the mean luminance."
            raise InputError(name, float(extreme), f"{low:g} to {high:g}", todo)
    return values
