"""Error of the delivered contrast: our gamma route against the stock one of psychopy.monitors.

Both get the same readings of the same simulated displays. The stock route is what its own
calibration tool does: `GammaCalculator` for each gun (on the mean reading of each level, kinder
than single readings), its numbers as the gamma grid of a `Monitor`, codes by `linearizeLums`. Codes
are then shown with ideal dithering in both routes, so that the comparison is of the curves alone.

Contrast is that of the screen's whole light, black included, as an eye sees it. The stock route
leaves black out of its table on purpose; "above black" takes the true black out of its error too,
and so leaves its curve alone to blame. The interval is a bootstrap over displays.

Run: python tests/bench/gamma_route.py [--displays N] [--seed N]
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "calibration_light"))
from displays import CARRIER, CONTRASTS, delivered, fundamental, invented_display, readings_of

from calibration.gamma import gamma_part, transfer_of
from calibration.readings import CHANNELS, Readings, checked_readings, code_means
from calibration.simulated import SimulatedDisplay

STOCK = {
    "stock": (1, True),
    "stock above black": (1, False),
    "stock equation 4": (4, True),
}
GUNS = ("white", "red", "green", "blue")
RESAMPLES = 2000


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--displays", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20)
    options = parser.parse_args()
    report(*compared(options.displays, options.seed), options.seed)


def compared(count: int, seed: int) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Relative errors of delivered contrast: ours and each stock way, shape (n, contrasts)."""
    ours = []
    stock: dict[str, list[list[float]]] = {name: [] for name in STOCK}
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        display = invented_display(rng)
        readings = checked_readings(readings_of(display, rng, number), 8, "simulated")
        transfer = transfer_of(gamma_part(readings.lines, "simulated", 0.02, 8))
        ours.append([delivered(display, transfer, c) / c - 1 for c in CONTRASTS])
        for name, rows in stock.items():
            rows.append(stock_errors(display, readings, *STOCK[name]))
    return np.array(ours), {name: np.array(rows) for name, rows in stock.items()}


def stock_errors(
    display: SimulatedDisplay, readings: Readings, equation: int, black_counts: bool
) -> list[float]:
    """Relative error of each contrast by the stock route."""
    monitor = stock_monitor(readings, equation)
    errors = []
    for contrast in CONTRASTS:
        wanted = 0.5 * (1 + contrast * np.append(CARRIER, 0.0))
        codes = 255 * monitor.linearizeLums(np.tile(wanted[:, None], (1, 3)))
        mean, black = display.cd_m2(codes[-1]), display.cd_m2([0, 0, 0])
        above = 1.0 if black_counts else mean / (mean - black)
        errors.append(float(above) * fundamental(display, codes[:-1], codes[-1]) / contrast - 1)
    return errors


def stock_monitor(readings: Readings, equation: int):
    """A stock Monitor calibrated by the stock fit."""
    from psychopy import logging, monitors

    logging.console.setLevel(logging.ERROR)
    rows = [stock_row(readings, gun, equation) for gun in GUNS]
    monitor = monitors.Monitor("simulated for a benchmark", width=53, distance=35, autoLog=False)
    monitor.setGammaGrid(np.array(rows))
    monitor.setLineariseMethod(equation)
    return monitor


def stock_row(readings: Readings, gun: str, equation: int) -> list[float]:
    """Minimum, maximum, gamma, a, b, k of one gun, as the stock calibration tool keeps them."""
    from psychopy.monitors import GammaCalculator

    assert gun in CHANNELS
    shares, means, _ = code_means(readings.channel(gun))
    found = GammaCalculator(inputs=shares * 255, lums=means, eq=equation)
    kept = [found.min, found.max, found.gamma, found.a, found.b, found.k]
    return [np.nan if value is None else float(value) for value in kept]


def report(ours: np.ndarray, stock: dict[str, np.ndarray], seed: int) -> None:
    """Print errors and their ratio with its interval."""
    print(f"{len(ours)} simulated displays, seed {seed}; size of the relative error")
    print(f"{'contrast':>9} {'route':>18} {'rms %':>8} {'median %':>9} {'worst %':>8}")
    routes = {"ours": ours} | stock
    for at, contrast in enumerate(CONTRASTS):
        for name, errors in routes.items():
            size = 100 * np.abs(errors[:, at])
            print(
                f"{contrast:9.3f} {name:>18} {np.sqrt(np.mean(size**2)):8.3f} "
                f"{np.median(size):9.3f} {np.max(size):8.3f}"
            )
    for name, errors in stock.items():
        ratio, low, high = rms_ratio(ours, errors)
        print(f"ours over {name}: {ratio:.3f}, 95 % interval {low:.3f} to {high:.3f} (rms error)")


def rms_ratio(ours: np.ndarray, stock: np.ndarray) -> tuple[float, float, float]:
    """Ratio of root-mean-square errors and its 95 % bootstrap interval over displays."""
    rng = np.random.default_rng(1)
    both = np.stack([np.mean(ours**2, axis=1), np.mean(stock**2, axis=1)])
    picks = rng.integers(0, len(ours), (RESAMPLES, len(ours)))
    means = np.mean(both[:, picks], axis=-1)
    low, high = np.quantile(np.sqrt(means[0] / means[1]), [0.025, 0.975])
    whole = np.mean(both, axis=1)
    return float(np.sqrt(whole[0] / whole[1])), float(low), float(high)


if __name__ == "__main__":
    main()
