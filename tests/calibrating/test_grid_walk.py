"""Uniformity: an operator finds the ring, takes the meter there, presses Enter."""

from __future__ import annotations

import io
import os
import time

import numpy as np
import pytest
from bench_rigs import SCREEN_TOML, Meter, Outsider, watching_meter
from bench_sight import Sight

from calibration.instruments.interface import InstrumentLost
from calibration.simulated import load_simulated
from calibration.uniformity import contrast_map
from protocols.errors import Interrupted
from stimulus.calibrating.window_bench import open_window_bench

ROWS, COLUMNS = 3, 5
SIZE = (1280, 720)  # the whole screen, so that places on it are places on the display


class Operator(Outsider):
    """Waits for a ring in a new place, points the meter at its middle, and presses Enter."""

    def __init__(self, meter: Meter, enter: int) -> None:
        self.went_to: list[tuple[int, int]] = []
        self._meter, self._enter = meter, enter
        super().__init__()

    def _live(self) -> None:
        sight = Sight()
        while not self._stop.is_set():
            black = np.all(sight.whole() == 0, axis=-1)
            if 500 < np.sum(black) < 50_000:
                y, x = np.nonzero(black)
                place = round(float(np.mean(x))), round(float(np.mean(y)))
                if place not in self.went_to:
                    self._meter.point_at(*place)
                    self.went_to.append(place)
                    os.write(self._enter, b"\n")
            time.sleep(0.01)


def walked(display, folder, monkeypatch, readings: int | None, screen=SCREEN_TOML, **more):
    """The grids, or what was raised, and where the operator went."""
    read_end, write_end = os.pipe()
    given = {"out": folder / "cert.json", "windowed": SIZE, "settle": 0.02, **more}
    with (
        watching_meter(folder, readings, SIZE, screen) as meter,
        open_window_bench({**given, "photometer": meter.spec}, 1) as bench,
        os.fdopen(read_end) as stdin,
    ):
        monkeypatch.setattr("sys.stdin", stdin)
        bench.window.quiet()
        operator = Operator(meter, write_end)
        try:
            return bench.grids(ROWS, COLUMNS, lambda *_: None), operator.went_to
        except InstrumentLost as lost:
            return str(lost), operator.went_to
        finally:
            operator.end()
            os.close(write_end)


def test_every_point_is_read_where_the_ring_was_and_a_lost_meter_loses_none(
    display, tmp_path, monkeypatch
):
    """Truth: the simulated display's own fall-off towards the corners."""
    lost, first = walked(display, tmp_path, monkeypatch, readings=20)
    assert "6 of 15 readings are kept in" in lost
    assert "the same command measures the rest. Plug it in again first." in lost
    grids, rest = walked(display, tmp_path, monkeypatch, readings=None)
    assert grids.full_and_none_cd_m2 is None, "nobody asked for them"
    grid = grids.grey_cd_m2
    places = first[:6] + rest
    assert len(places) == ROWS * COLUMNS
    truth = load_simulated(tmp_path / "screen.toml")
    x, y = np.linspace(-1, 1, COLUMNS + 2)[1:-1], np.linspace(-1, 1, ROWS + 2)[1:-1]
    wanted = truth.place_share(x[None, :], y[:, None])
    shares = grid / grid[ROWS // 2, COLUMNS // 2]
    print(f"largest error of a share: {np.max(np.abs(shares - wanted)):.4f}")
    assert np.allclose(shares, wanted, atol=0.01)
    assert places[0][1] > places[-1][1], "rows from the bottom"


def test_end_of_input_stops_and_keeps(display, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    with (
        watching_meter(tmp_path) as meter,
        open_window_bench(
            {"out": tmp_path / "c.json", "windowed": (640, 480), "photometer": meter.spec}, 1
        ) as bench,
        pytest.raises(Interrupted, match="What was measured is kept"),
    ):
        bench.grids(ROWS, COLUMNS, lambda *_: None)


def test_full_and_no_light_at_every_point_tell_what_a_glow_does_to_contrast(
    display, tmp_path, monkeypatch
):
    """One walk, though the meter is lost in the middle of a point. Truth: contrast of full against
    no light, from the display's own formula with the glow of its corners."""
    screen = SCREEN_TOML + "corner_drop = 0.2\nglow_cd_m2 = 12.0\n"
    more = {"screen": screen, "contrast_map": True}
    lost, first = walked(display, tmp_path, monkeypatch, readings=3 * 3 * 4 + 3, **more)
    assert "13 of 45 readings are kept in" in lost
    grids, rest = walked(display, tmp_path, monkeypatch, readings=None, **more)
    assert len(first) == 5
    assert len(rest) == 11, "the point that was begun is gone to again"
    assert first[-1] == rest[0]
    bright, dark = grids.full_and_none_cd_m2
    found = contrast_map(bright, dark).shares
    truth = load_simulated(tmp_path / "screen.toml")
    x, y = np.linspace(-1, 1, COLUMNS + 2)[1:-1], np.linspace(-1, 1, ROWS + 2)[1:-1]
    share, glow = truth.place_share(x, y[:, None]), truth.glow_cd_m2(x, y[:, None])
    high, low = (truth.cd_m2([code] * 3) * share + glow for code in (255, 0))
    contrast = (high - low) / (high + low)
    wanted = contrast / contrast[ROWS // 2, COLUMNS // 2]
    print(f"contrast down to {np.min(found):.4f} of the middle's, truth {np.min(wanted):.4f}")
    assert np.allclose(found, wanted, atol=0.002)
    assert np.min(wanted) < 0.97
