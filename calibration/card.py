"""Size of a pixel: from a card held on the screen, or from the lit area under a ruler.

Any bank or library card of the common size will do: ISO/IEC 7810 ID-1, 85.60 mm wide and 53.98 mm
high. An outline on the screen is adjusted until it matches the card, several times; width and
height give the two sides of a pixel apart, so a screen that stretches its picture is noticed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.certificate import Quantity
from calibration.samples import rectangular, repeated, scaled, series
from protocols.errors import InputError, require_within

CARD_WIDTH_MM = 85.60
CARD_HEIGHT_MM = 53.98
CARD_WIDTH_LIMIT_MM = 0.13
CARD_HEIGHT_LIMIT_MM = 0.06
PARALLAX_LIMIT_MM = 0.25
SETTING_LIMIT_PX = 0.5
RULER_LIMIT_CM = 0.05
LEAST_SETTINGS = 3
LEAST_READINGS = 2
MOST_SPREAD = 0.03
MOST_STRETCH = 0.03
LENGTH_RANGE_PX = (50.0, 20000.0)
LENGTH_RANGE_CM = (1.0, 500.0)


@dataclass(frozen=True)
class PixelSize:
    """Width and height of one pixel, cm, and how they were found."""

    width_cm: Quantity
    height_cm: Quantity
    method: str


@dataclass(frozen=True)
class LitSize:
    """Width and height of the lit area, cm, and how they were found."""

    width_cm: Quantity
    height_cm: Quantity
    method: str


def pixel_by_card(widths_px: ArrayLike, heights_px: ArrayLike) -> PixelSize:
    """Size of a pixel from repeated settings of the outline, pixels, (n,) each, three or more.

    Type A is the spread of the settings. Type B joins the card's own tolerance (the standard's, as
    remembered: 85.47 to 85.72 mm and 53.92 to 54.03 mm), half a pixel of the outline, and 0.25 mm
    of parallax across the glass (own estimate). Raises InputError for too few settings, settings
    that spread by more than 3 %, and pixels more than 3 % off square.

    >>> pixel = pixel_by_card([324, 325, 323], [204, 205, 204])
    >>> round(pixel.width_cm.value, 5)
    0.02642
    """
    width = _side("widths_px", widths_px, CARD_WIDTH_MM, CARD_WIDTH_LIMIT_MM)
    height = _side("heights_px", heights_px, CARD_HEIGHT_MM, CARD_HEIGHT_LIMIT_MM)
    stretch = width.value / height.value
    if abs(stretch - 1) > MOST_STRETCH:
        raise InputError(
            "pixel width over height",
            stretch,
            f"{1 - MOST_STRETCH:g} to {1 + MOST_STRETCH:g}",
            "Hold the card as drawn, set the screen to its own resolution, and match again.",
        )
    return PixelSize(width, height, "card, ISO/IEC 7810 ID-1, matched on the screen")


def lit_size(pixel: PixelSize, width_px: int, height_px: int) -> LitSize:
    """The lit area of so many pixels; the number of pixels is exact.

    Raises InputError for a size out of range.
    """
    for name, size in (("width_px", width_px), ("height_px", height_px)):
        require_within(name, size, 100, 20000, "Give the size of the window in pixels.")
    return LitSize(
        scaled(pixel.width_cm, width_px, "cm"),
        scaled(pixel.height_cm, height_px, "cm"),
        pixel.method,
    )


def size_by_ruler(widths_cm: ArrayLike, heights_cm: ArrayLike) -> LitSize:
    """The lit area from repeated ruler readings, cm, (n,) each, two or more.

    Each end of a ruler is read to half a millimetre either way. Raises InputError for too few
    readings, lengths out of range, and readings that spread by more than 3 %.
    """
    sides = [
        _ruled(name, values) for name, values in (("width", widths_cm), ("height", heights_cm))
    ]
    return LitSize(sides[0], sides[1], "ruler on the lit area")


def _side(name: str, settings_px: ArrayLike, card_mm: float, limit_mm: float) -> Quantity:
    todo = "Match the outline to the card again."
    found = series(name, settings_px, LEAST_SETTINGS, todo)
    for end in (np.min(found), np.max(found)):
        require_within(name, float(end), *LENGTH_RANGE_PX, todo)
    _refuse_spread(name, found, todo)
    length = repeated(name, found, LEAST_SETTINGS, rectangular(SETTING_LIMIT_PX), "px")
    pixel_cm = card_mm / 10 / length.value
    card = np.hypot(rectangular(limit_mm), rectangular(PARALLAX_LIMIT_MM)) / card_mm
    return Quantity(
        value=pixel_cm,
        type_a=pixel_cm * length.type_a / length.value,
        type_b=pixel_cm * float(np.hypot(length.type_b / length.value, card)),
        unit="cm",
    )


def _ruled(name: str, readings_cm: ArrayLike) -> Quantity:
    todo = "Lay the ruler along the lit area and read both ends again."
    found = series(f"{name}s_cm", readings_cm, LEAST_READINGS, todo)
    for end in (np.min(found), np.max(found)):
        require_within(f"{name}s_cm", float(end), *LENGTH_RANGE_CM, todo)
    _refuse_spread(f"{name}s_cm", found, todo)
    both_ends = 2**0.5 * rectangular(RULER_LIMIT_CM)
    return repeated(name, found, LEAST_READINGS, both_ends, "cm")


def _refuse_spread(name: str, values: ArrayLike, todo: str) -> None:
    found = np.asarray(values, float)
    spread = float(np.ptp(found) / np.mean(found))
    if spread > MOST_SPREAD:
        raise InputError(
            f"{name}, lowest to highest", f"{spread:.1%}", f"up to {MOST_SPREAD:.0%}", todo
        )
