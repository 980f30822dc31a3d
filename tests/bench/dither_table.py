"""Ways of dithering side by side: error of the delivered contrast, and visible noise.

A 7-degree patch of 0.5 c/deg for 0.6 s at 60 Hz, 20 Hz flicker, on the nominal sRGB display.

Run: python tests/bench/dither_table.py [--seeds N] [--pixels N]
"""

from __future__ import annotations

import argparse

import numpy as np

from calibration.dither import DITHERS
from calibration.dither_noise import score_dither
from calibration.transfer import srgb_nominal
from protocols.field import Place
from protocols.grating import Patch, frame_plan, modulation

CONTRASTS = (0.002, 0.005, 0.01, 0.05, 0.5)
WEIGHTS = np.array([0.2126, 0.7152, 0.0722])  # luminance of sRGB's primaries, IEC 61966-2-1
PATCH = Patch(Place(0.0, 0.0), 2.5, 3.5, 0.5, 90.0, 0.0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=6)
    parser.add_argument("--pixels", type=int, default=120)
    options = parser.parse_args()
    step_deg = 7.0 / options.pixels
    angles = (np.arange(options.pixels) + 0.5) * step_deg - 3.5
    shape, plan = modulation(PATCH, angles[None, :], angles[:, None]), frame_plan(0.6, 0.1, 20, 60)
    print(f"patch {options.pixels} px across, {options.seeds} seeds; shares of contrast in %")
    print("contrast     dither   bias %     sd %  noise rms    visible")
    for contrast in CONTRASTS:
        for name, dither in DITHERS.items():
            score = score_dither(
                dither, srgb_nominal(), contrast, plan, shape, step_deg,
                range(options.seeds), WEIGHTS,
            )  # fmt: skip
            print(
                f"{contrast:9.3f} {name:>10} {100 * score.contrast_bias:8.3f} "
                f"{100 * score.contrast_sd:8.3f} {score.noise_rms:10.6f} {score.visible_rms:10.7f}"
            )


if __name__ == "__main__":
    main()
