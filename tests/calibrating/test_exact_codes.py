"""What the bench puts on the window, pixel by pixel, as the X server has it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from calibration.instruments.eye_match import Request, half_tone
from stimulus.calibrating.flips import largest_patch
from stimulus.calibrating.shapes import disc, half_tone_beside_solid, ring
from stimulus.calibrating.window_bench import WindowBench, open_window_bench
from stimulus.tiles import Tile

SIZE = (640, 480)
FLIPS, LOADED = 120, 60


@pytest.fixture(scope="module")
def bench(display: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[WindowBench]:
    given = {"out": tmp_path_factory.mktemp("bench") / "cert.json", "windowed": SIZE}
    with open_window_bench(given, 1) as opened:
        yield opened


@pytest.mark.parametrize("codes", [(0, 0, 0), (255, 255, 255), (1, 128, 254), (187, 0, 0)])
def test_a_colour_covers_every_pixel_exactly(bench, codes):
    bench.show(codes)
    assert np.all(bench.window.read_back() == codes)


def test_every_code_of_every_channel_is_exact(bench):
    """768 tiles of 20 x 20 pixels: code and channel by place."""
    places = [(channel, code) for channel in range(3) for code in range(256)]
    tiles = []
    for n, (channel, code) in enumerate(places):
        codes = [0, 0, 0]
        codes[channel] = code
        tiles.append(Tile(n % 32 * 20, n // 32 * 20, 20, 20, tuple(codes)))
    bench.window.tiles(tiles)
    seen = bench.window.read_back()[::-1]
    for n, (channel, code) in enumerate(places):
        block = seen[n // 32 * 20 : n // 32 * 20 + 20, n % 32 * 20 : n % 32 * 20 + 20]
        assert np.all(block[..., channel] == code)
        assert np.all(np.delete(block, channel, axis=-1) == 0)


def test_tiles_leave_the_next_quiet_frame_as_it_was(bench):
    bench.window.quiet()
    before = bench.window.read_back().copy()
    bench.show((3, 200, 90))
    bench.window.quiet()
    assert np.array_equal(bench.window.read_back(), before)


@pytest.mark.parametrize(("low", "high", "solid"), [(0, 255, 180), (7, 8, 7), (186, 255, 221)])
def test_a_half_tone_lies_on_exact_device_pixels(bench, low, high, solid):
    bench.window.tiles(half_tone_beside_solid(Request("green", low, high, solid), SIZE))
    seen = bench.window.read_back()[::-1]
    rows, columns, bottom = 240, 160, 480 - 240 - 60
    patch = seen[bottom : bottom + rows, 320 - columns : 320]
    assert np.array_equal(patch[..., 1], half_tone(low, high, (rows, columns), "lines"))
    assert np.all(seen[bottom : bottom + rows, 320 : 320 + columns] == (0, solid, 0))
    assert np.all(np.delete(patch, 1, axis=-1) == 0)


def test_discs_and_rings_are_round(bench):
    """Area against pi r^2; the middle by the mean of its pixels."""
    bench.window.tiles(disc((200, 300), 40, (9, 9, 9)))
    y, x = np.nonzero(np.all(bench.window.read_back()[::-1] == (9, 9, 9), axis=-1))
    assert len(x) == pytest.approx(np.pi * 40**2, rel=0.01)
    assert (np.mean(x + 0.5), np.mean(y + 0.5)) == pytest.approx((200, 300))
    bench.window.tiles(ring((320, 240), 50, 30, (9, 9, 9), (187, 187, 187)))
    seen = np.all(bench.window.read_back() == (9, 9, 9), axis=-1)
    assert np.sum(seen) == pytest.approx(np.pi * (50**2 - 30**2), rel=0.01)
    assert not seen[240, 320]


def test_words_beside_tiles_name_what_the_program_is_not_for(bench):
    bench.window.tiles([], ["Look here."])
    words = bench.window.read_back()
    assert np.any(words[440:] != bench.window.transfer.mean_codes)


def test_flips_are_real_ones_at_rest_and_under_load(bench):
    """Paced in software on a virtual screen: 60 a second, and it says that no display was waited
    for; under load a patch is on the window."""
    assert not bench.display_locked
    rest = np.diff(bench.flips_s(FLIPS, under_load=False))
    load = np.diff(bench.flips_s(LOADED, under_load=True))
    print(f"median interval {np.median(rest) * 1e3:.3f} ms at rest, {np.median(load) * 1e3:.3f} ms")
    assert (len(rest), len(load)) == (FLIPS - 1, LOADED - 1)
    assert np.median(rest) == pytest.approx(1 / 60, rel=0.01)
    assert np.median(load) == pytest.approx(1 / 60, rel=0.01)
    assert largest_patch(bench.window).place.x_deg == 0.0, "640 px are narrower than 20 degrees"


def test_the_window_opens_only_when_it_is_needed(display, tmp_path: Path):
    given = {"out": tmp_path / "cert.json", "windowed": SIZE, "display_serial": "D-1"}
    with open_window_bench(given, 1) as bench:
        assert bench.identity.display_serial == "D-1; no EDID"
        assert (bench.identity.width_px, bench.identity.height_px) == SIZE
        assert "window" not in bench.__dict__
