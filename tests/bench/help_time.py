"""Start time of `ripplefield --help` against a bare import of the library it is built on.

Starts of the two kinds alternate, so that a busy machine slows both; the ratio is of the medians,
its interval a bootstrap over pairs.

Run: python tests/bench/help_time.py [--starts N]
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

PROGRAM = Path(sys.executable).with_name("ripplefield")
KINDS = {
    "ripplefield --help": [str(PROGRAM), "--help"],
    "import click": [sys.executable, "-c", "import click"],
    "python alone": [sys.executable, "-c", ""],
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--starts", type=int, default=40)
    starts = parser.parse_args().starts
    for command in KINDS.values():
        seconds(command)
    times = {name: np.empty(starts) for name in KINDS}
    for n in range(starts):
        for name, command in KINDS.items():
            times[name][n] = seconds(command)
    report(times)


def seconds(command: list[str]) -> float:
    began_s = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began_s


def report(times: dict[str, np.ndarray]) -> None:
    ours, bare = times["ripplefield --help"], times["import click"]
    for name, values in times.items():
        ms = values * 1e3
        print(f"{name:20s} median {np.median(ms):6.1f} ms, least {ms.min():.1f} ms")
    pick = np.random.default_rng(1).integers(0, len(ours), (2000, len(ours)))
    ratios = np.median(ours[pick], axis=1) / np.median(bare[pick], axis=1)
    low, high = np.quantile(ratios, (0.025, 0.975))
    print(f"ratio of medians {np.median(ours) / np.median(bare):.2f} ({low:.2f} to {high:.2f})")


if __name__ == "__main__":
    main()
