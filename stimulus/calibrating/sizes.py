"""Lit size and distance from what was given: ruler, card, tape."""

from __future__ import annotations

import math
from collections.abc import Sequence

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
CARD_ALLOWED = "match, or WIDTHxHEIGHT in pixels, three or more with commas between"


def lit_by_card(settings_px: Sequence[tuple[float, float]], size_px: tuple[int, int]) -> LitSize:
    """Lit size from settings of the outline, width and height each; raises InputError."""
    widths, heights = ([pair[side] for pair in settings_px] for side in (0, 1))
    with said_of("--card"):
        return lit_size(pixel_by_card(widths, heights), *size_px)


def lit_by_ruler(given: Given) -> LitSize:
    """Lit size by ruler; raises InputError that names the options."""
    with said_of("--width, --height"):
        return size_by_ruler(given.width or (), given.height or ())


def tape_cm(readings: tuple[float, ...]) -> Quantity:
    """Distance by tape; raises InputError that names the option.

    Readings in cm; a count from one.
    """
    with said_of("--distance"):
        return distance_by_hand(readings)


def card_settings(text: str) -> list[tuple[float, float]]:
    """Width and height of the outline at each setting, as typed, pixels; raises InputError.

    >>> card_settings("324x204,325x204")
    [(324.0, 204.0), (325.0, 204.0)]
    """
    sides = [part.strip().lower().split("x") for part in text.split(",")]
    try:
        found = [(float(width), float(height)) for width, height in sides]
    except ValueError:
        found = []
    if not found or not all(0 < side < math.inf for pair in found for side in pair):
        raise InputError(
            "--card", text, CARD_ALLOWED, "Write them like 324x204,325x204,323x205."
        )
    return found


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
