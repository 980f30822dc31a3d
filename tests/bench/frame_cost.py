"""Cost of one of our frames against a stock grating of the same size, on the same window.

A frame is draw + flip + glFinish. Blocks of the two kinds alternate in one run, so that a busy
machine slows both; the ratio is of the medians, its interval a bootstrap over blocks.

Run: python tests/bench/frame_cost.py [--blocks N] [--size WxH]
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator

import numpy as np

from calibration.geometry import Screen, screen_of_width
from calibration.transfer import srgb_nominal
from protocols.field import polar_place
from protocols.grating import Patch
from stimulus.clock import clock
from stimulus.virtual_screen import virtual_screen
from stimulus.window import StimulusWindow

FRAMES_A_BLOCK = 60
PATCH = Patch(polar_place(9.5, 30.0), 2.5, 3.5, 0.5, 90.0, 0.0)
Draw = Callable[[], None]


def main() -> None:
    options = _options()
    width, height = (int(n) for n in options.size.split("x"))
    screen = screen_of_width(width, height, 53.0, 35.0)
    with virtual_screen(width, height), StimulusWindow(screen, srgb_nominal()) as window:
        draws = _draws(window, screen)
        blocks = _alternate(window, draws, options.blocks)
    _report(blocks)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blocks", type=int, default=40)
    parser.add_argument("--size", default="1280x720")
    return parser.parse_args()


def _draws(window: StimulusWindow, screen: Screen) -> dict[str, Draw]:
    from psychopy import visual

    from stimulus.patch import patch_box

    left, bottom, width, height = patch_box(PATCH, screen)
    centre = (left + width / 2 - screen.width_px / 2, bottom + height / 2 - screen.height_px / 2)
    stock = visual.GratingStim(
        window._window, tex="sin", mask="raisedCos", size=(width, height), pos=centre, units="pix"
    )
    print(f"patch {width} x {height} px on a window of {screen.width_px} x {screen.height_px} px")
    window._patch.prepare(PATCH, frames_per_cycle=3)

    def stock_draw() -> None:
        stock.contrast = next(factors)
        stock.draw()

    factors = _flicker()
    return {
        "flip only": lambda: None,
        "stock, unchanging": stock.draw,
        "stock grating": stock_draw,
        "our patch": lambda: window._patch.draw(next(factors)),
        "our patch and mark": lambda: (window._patch.draw(next(factors)), window._mark.draw())[0],
    }


def _flicker() -> Iterator[float]:
    while True:
        yield from (1.0, -0.5, -0.5)


def _alternate(
    window: StimulusWindow, draws: dict[str, Draw], blocks: int
) -> dict[str, list[float]]:
    medians: dict[str, list[float]] = {name: [] for name in draws}
    for draw in draws.values():
        _median_frame_s(window, draw)
    for _ in range(blocks):
        for name, draw in draws.items():
            medians[name].append(_median_frame_s(window, draw))
    return medians


def _median_frame_s(window: StimulusWindow, draw: Draw) -> float:
    from pyglet import gl

    times = []
    for _ in range(FRAMES_A_BLOCK):
        started = clock()
        draw()
        window._window.flip()
        gl.glFinish()
        times.append(clock() - started)
    return float(np.median(times))


def _report(blocks: dict[str, list[float]]) -> None:
    rng = np.random.default_rng(1)
    stock = np.array(blocks["stock grating"])
    for name, values in blocks.items():
        ms = np.array(values) * 1e3
        pick = rng.integers(0, len(ms), (2000, len(ms)))
        ratios = np.median(np.array(values)[pick], axis=1) / np.median(stock[pick], axis=1)
        low, high = np.quantile(ratios, (0.025, 0.975))
        print(
            f"{name:20s} median {np.median(ms):6.3f} ms, "
            f"blocks {np.min(ms):.3f} to {np.max(ms):.3f}; "
            f"ratio to stock {np.median(ms) / np.median(stock * 1e3):.3f} ({low:.3f} to {high:.3f})"
        )


if __name__ == "__main__":
    main()
