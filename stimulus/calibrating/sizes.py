"""Lit size and distance from what was given: ruler, card, tape."""

from __future__ import annotations

import numpy as np

from calibration.card import LitSize, lit_size, pixel_by_card, size_by_ruler
from calibration.certificate import Quantity
from calibration.distance import distance_by_hand
from calibration.geometry import Screen
from protocols.errors import InputError
from stimulus.calibrating.given import BLIND_SPOT, Given, said_of

TAPE = "tape from eye to mark"
USUAL_PX_CM = 2.54 / 96
USUAL_DISTANCE_CM = 40.0
CARD_ALLOWED = "WIDTHxHEIGHT in pixels, three or more with commas between"


def lit_of(given: Given, size_px: tuple[int, int]) -> LitSize:
    """Lit size by card or ruler; raises InputError that names the option."""
    if given.card is not None:
        _refuse_both(given)
        with said_of("--card"):
            widths, heights = card_settings(given.card)
            return lit_size(pixel_by_card(widths, heights), *size_px)
    with said_of("--width, --height"):
        return size_by_ruler(given.width or (), given.height or ())


def tape_cm(readings: tuple[float, ...]) -> Quantity:
    """Distance by tape; raises InputError that names the option."""
    with said_of("--distance"):
        return distance_by_hand(readings)


def card_settings(text: str) -> tuple[list[float], list[float]]:
    """Widths and heights of the outline as it was matched, pixels; raises InputError.

    >>> card_settings("324x204,325x204")
    ([324.0, 325.0], [204.0, 204.0])
    """
    sides = [part.strip().lower().split("x") for part in text.split(",")]
    try:
        pairs = [(float(width), float(height)) for width, height in sides]
    except ValueError:
        raise InputError(
            "settings", text, CARD_ALLOWED, "Write them like 324x204,325x204,323x205."
        ) from None
    return [width for width, _ in pairs], [height for _, height in pairs]


def drawing_screen(given: Given, size_px: tuple[int, int]) -> Screen:
    """Geometry to draw by while it is measured: what was given, else a usual screen's."""
    width_px, height_px = size_px
    tape = given.distance if given.distance != BLIND_SPOT else None
    return Screen(
        width_px,
        height_px,
        _mean(given.width, width_px * USUAL_PX_CM),
        _mean(given.height, height_px * USUAL_PX_CM),
        _mean(tape, USUAL_DISTANCE_CM),
    )


def _mean(readings: object, usual: float) -> float:
    return float(np.mean(readings)) if isinstance(readings, tuple) and readings else usual


def _refuse_both(given: Given) -> None:
    if given.width or given.height:
        raise InputError(
            "--card", "--card and --width or --height", "one of the two ways", "Leave one out."
        )
