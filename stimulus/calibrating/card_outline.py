"""A bank card held on the screen: an outline is adjusted by keys until it is as large."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from calibration.card import CARD_HEIGHT_MM, CARD_WIDTH_MM, LEAST_SETTINGS
from protocols.errors import Interrupted
from stimulus.buttons.inbox import Inbox
from stimulus.buttons.key_listener import Key, KeyListener
from stimulus.calibrating.shapes import BLACK, Size
from stimulus.tiles import Tile
from stimulus.window import StimulusWindow

LINE_PX = 2
LEAST_PX = 20
STARTS = (0.8, 1.25)
"""Where settings begin, as multiples of a usual screen's, so that none leans on the one before."""

GROWTH = 1.1
Change = Callable[[Size], Size]
KEYS: dict[str, Change | None] = {
    "Right": lambda size: (size[0] + 1, size[1]),
    "Left": lambda size: (size[0] - 1, size[1]),
    "Up": lambda size: (size[0], size[1] + 1),
    "Down": lambda size: (size[0], size[1] - 1),
    "plus": lambda size: (round(size[0] * GROWTH), round(size[1] * GROWTH)),
    "minus": lambda size: (round(size[0] / GROWTH), round(size[1] / GROWTH)),
    "Return": None,
    "Escape": None,
}
WORDS = (
    "Hold a bank card, longer side across, on the screen. The inside of the outline is the card.",
    "Left, right: width    Down, up: height    - and +: both    Return: it fits    Escape: stop",
)


def matched_card(
    window: StimulusWindow, keys: KeyListener, pixel_cm: float, seed: int
) -> list[Size]:
    """Width and height of the outline at each setting, pixels; `pixel_cm` is only a start.

    Raises Interrupted when told to stop.
    """
    rng = np.random.default_rng([seed, 7])
    inbox = keys.subscribe("The keyboard", KEYS)
    usual = CARD_WIDTH_MM / 10 / pixel_cm, CARD_HEIGHT_MM / 10 / pixel_cm
    try:
        return [
            _setting(window, inbox, _start(usual, float(rng.uniform(*STARTS))))
            for _ in range(LEAST_SETTINGS)
        ]
    finally:
        keys.unsubscribe(inbox)


def outline(inside_px: Size, window_px: Size) -> list[Tile]:
    """A frame in the middle whose inside is of this size."""
    left, bottom = ((w - i) // 2 for w, i in zip(window_px, inside_px, strict=True))
    width, height = inside_px
    tall, wide = height + 2 * LINE_PX, width + 2 * LINE_PX
    return [
        Tile(left - LINE_PX, bottom - LINE_PX, LINE_PX, tall, BLACK),
        Tile(left + width, bottom - LINE_PX, LINE_PX, tall, BLACK),
        Tile(left - LINE_PX, bottom - LINE_PX, wide, LINE_PX, BLACK),
        Tile(left - LINE_PX, bottom + height, wide, LINE_PX, BLACK),
    ]


def _setting(window: StimulusWindow, inbox: Inbox[Key], size: Size) -> Size:
    """One setting, from a start to Return; a change beyond the window is not made."""
    whole = window.screen.width_px, window.screen.height_px
    while True:
        window.tiles(outline(size, whole), WORDS)
        for name in _typed(inbox):
            change = KEYS[name]
            if change is not None:
                size = _fitting(change(size), whole, size)
            elif name == "Return":
                return size
            else:
                raise Interrupted("Stopped by the operator.")


def _typed(inbox: Inbox[Key]) -> list[str]:
    while not (typed := inbox.take()):
        time.sleep(0.01)
    return [name for name, _ in typed]


def _fitting(wanted: Size, whole: Size, now: Size) -> Size:
    fits = all(LEAST_PX <= w <= a - 2 * LINE_PX for w, a in zip(wanted, whole, strict=True))
    return wanted if fits else now


def _start(usual: tuple[float, float], share: float) -> Size:
    return round(usual[0] * share), round(usual[1] * share)
