"""A card on the screen: somebody who sees the outline's pixels and types until it fits."""

from __future__ import annotations

import time

import numpy as np
import pytest
from bench_rigs import Outsider
from bench_sight import Sight
from Xlib import XK, X
from Xlib.ext import xtest

from stimulus.calibrating.window_bench import open_window_bench
from stimulus.tiles import Tile

PX_CM = 0.031  # a screen of 82 pixels an inch: not the usual one the outline begins by
CARD_PX = (round(8.560 / PX_CM), round(5.398 / PX_CM))  # ISO/IEC 7810 ID-1: 85.60 x 53.98 mm


def inside(sight: Sight) -> tuple[int, int] | None:
    """Width and height of what the black outline encloses."""
    black = np.all(sight.whole() == 0, axis=-1)
    middle = black[sight.height // 2, (sight.width - 640) // 2 :][:640], black[:, sight.width // 2]
    runs = [_inner(line) for line in (middle[0], middle[1][(sight.height - 480) // 2 :][:480])]
    return (runs[0], runs[1]) if all(runs) else None  # type: ignore[return-value]


def _inner(line: np.ndarray) -> int | None:
    dark = np.flatnonzero(line)
    half = len(line) // 2
    left, right = dark[dark < half], dark[dark >= half]
    return int(right[0] - left[-1] - 1) if len(left) and len(right) else None


class Person(Outsider):
    def __init__(self) -> None:
        self.accepted: list[tuple[int, int]] = []
        super().__init__()

    def _live(self) -> None:
        sight = Sight()
        while not self._stop.is_set() and len(self.accepted) < 3:
            time.sleep(0.03)
            seen = inside(sight)
            if seen is None:
                continue
            off = seen[0] - CARD_PX[0], seen[1] - CARD_PX[1]
            if off == (0, 0):
                self.accepted.append(seen)
                self._type(sight, "Return")
                time.sleep(0.15)
            elif off[0]:
                self._press(sight, "Left" if off[0] > 0 else "Right", abs(off[0]))
            else:
                self._press(sight, "Down" if off[1] > 0 else "Up", abs(off[1]))

    def _press(self, sight: Sight, name: str, times: int) -> None:
        for _ in range(times):
            self._type(sight, name)
        time.sleep(0.15)

    def _type(self, sight: Sight, name: str) -> None:
        code = sight.display.keysym_to_keycode(XK.string_to_keysym(name))
        for kind in (X.KeyPress, X.KeyRelease):
            xtest.fake_input(sight.display, kind, code)
            sight.display.sync()
            time.sleep(0.002)


def test_a_matched_outline_gives_the_size_of_the_screen(display, tmp_path):
    given = {
        "out": tmp_path / "cert.json",
        "windowed": (640, 480),
        "card": "match",
        "distance": (40.0, 40.2),
    }
    with open_window_bench(given, 1) as bench:
        assert not bench.window.closed
        person = Person()
        size = bench.size()
        person.end()
    assert person.accepted == [CARD_PX] * 3
    print(f"{size.lit.width_cm.value:.3f} cm, truth {640 * PX_CM:.3f}")
    assert size.lit.width_cm.value == pytest.approx(640 * 8.560 / CARD_PX[0], rel=1e-9)
    assert abs(size.lit.width_cm.value - 640 * PX_CM) < size.lit.width_cm.expanded
    assert abs(size.lit.height_cm.value - 480 * PX_CM) < size.lit.height_cm.expanded


def test_the_outline_encloses_exactly_the_size_it_is_told(display, tmp_path):
    from stimulus.calibrating.card_outline import outline

    tiles = outline((101, 60), (640, 480))
    picture = np.zeros((480, 640), bool)
    for tile in tiles:
        assert isinstance(tile, Tile)
        rows = slice(tile.bottom_px, tile.bottom_px + tile.height_px)
        picture[rows, tile.left_px : tile.left_px + tile.width_px] = True
    assert _inner(picture[240]) == 101
    assert _inner(picture[:, 320]) == 60
