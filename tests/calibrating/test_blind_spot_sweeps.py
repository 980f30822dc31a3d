"""Distance by the blind spot, from somebody who sees the dot's pixels and has such a spot."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from bench_rigs import Line, Outsider
from bench_sight import Sight

from protocols.errors import InputError
from stimulus.calibrating.window_bench import open_window_bench

WIDTH_CM, DISTANCE_CM = 20.0, 12.0
WIDTH_PX, HEIGHT_PX = 640, 480
SPOT_DEG = (12.5, 18.5)  # centre 15.5 deg, 6 deg wide: Rohrschneider 2004, IOVS 45:1000
REACTION_S = 0.2


class Person(Outsider):
    """The right eye at a known distance: presses, a reaction late, when the dot goes and comes."""

    def __init__(self, line: Line, spot_deg: tuple[float, float]) -> None:
        self._line, self._spot = line, spot_deg
        super().__init__()

    def _live(self) -> None:
        sight, unseen, due_s = Sight(), None, [time.monotonic() + 0.7]
        while not self._stop.is_set():
            time.sleep(0.003)
            now_s = time.monotonic()
            if due_s and now_s > due_s[0]:
                due_s.pop(0)
                self._line.send(b"\x01")
            at_deg = self._dot_deg(sight)
            if at_deg is None:
                unseen = None
                continue
            hidden = self._spot[0] < at_deg < self._spot[1]
            if unseen is not None and hidden != unseen:
                due_s.append(now_s + REACTION_S)
            unseen = hidden

    def _dot_deg(self, sight: Sight) -> float | None:
        """The black run right of the mark on the middle row, as an angle."""
        row = sight.box(sight.width // 2 + 14, sight.height // 2, WIDTH_PX // 2 - 14, 1)[0]
        black = np.flatnonzero(np.all(row == 0, axis=-1))
        if not len(black):
            return None
        away_cm = (14 + float(np.mean(black)) + 0.5) * WIDTH_CM / WIDTH_PX
        return math.degrees(math.atan(away_cm / DISTANCE_CM))


def test_sweeps_find_the_distance_and_the_reaction_cancels(display, tmp_path, monkeypatch):
    monkeypatch.setattr("stimulus.calibrating.blind_spot.SPEED_CM_S", 3.0)  # for time
    line = Line(tmp_path / "button")
    given = {
        "out": tmp_path / "cert.json",
        "windowed": (WIDTH_PX, HEIGHT_PX),
        "width": (WIDTH_CM, WIDTH_CM),
        "height": (15.0, 15.0),
        "distance": "blind-spot",
        "button": f"serial:{line.path}",
    }
    with open_window_bench(given, 1) as bench:
        assert bench.window.refresh.refresh_hz == 60.0
        person = Person(line, SPOT_DEG)
        size = bench.size()
        person.end()
    line.close()
    found = size.distance_cm
    print(f"{found.value:.2f} ± {found.expanded:.2f} cm, truth {DISTANCE_CM}")
    assert size.distance_method == "blind spot of the right eye, dot sweeps"
    assert found.value == pytest.approx(DISTANCE_CM, rel=0.03)
    assert found.expanded > 0.14 * found.value, "blind spots differ between people"


def test_somebody_who_never_loses_the_dot_is_told_what_to_do(display, tmp_path, monkeypatch):
    monkeypatch.setattr("stimulus.calibrating.blind_spot.SPEED_CM_S", 20.0)
    line = Line(tmp_path / "button")
    given = {
        "out": tmp_path / "cert.json",
        "windowed": (WIDTH_PX, HEIGHT_PX),
        "width": (WIDTH_CM, WIDTH_CM),
        "height": (15.0, 15.0),
        "distance": "blind-spot",
        "button": f"serial:{line.path}",
    }
    with open_window_bench(given, 1) as bench:
        assert not bench.window.closed
        person = Person(line, (80.0, 81.0))
        with pytest.raises(InputError, match=r"0 presses in a sweep, 3 times.*measure with a tape"):
            bench.size()
        person.end()
    line.close()
