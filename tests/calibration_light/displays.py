"""Invented displays with known truth, and what a meter of known noise reads of them."""

from __future__ import annotations

import numpy as np

from calibration.certificate import ReadingLine
from calibration.luminance.plan import reading_plan
from calibration.readings import screen_codes
from calibration.simulated import DisplayFile, SimulatedDisplay
from calibration.transfer import CODES, Transfer

CONTRASTS = (0.005, 0.01, 0.05, 0.5)
CARRIER = np.sin(2 * np.pi * (np.arange(720) + 0.5) / 720)


def invented_display(rng: np.random.Generator) -> SimulatedDisplay:
    """Gamma 1.6 to 2.8, code offset 0 to 0.05, black and noise (0 to 2 %) drawn at random."""
    return SimulatedDisplay(
        DisplayFile(
            about="invented for a test",
            gamma=rng.uniform(1.6, 2.8, 3).tolist(),
            code_offset=rng.uniform(0.0, 0.05, 3).tolist(),
            peak_cd_m2=(np.array([52.0, 175.0, 18.0]) * rng.uniform(0.5, 2.0, 3)).tolist(),
            black_cd_m2=rng.uniform(0.01, 0.3, 3).tolist(),
            noise_relative=float(rng.uniform(0.0, 0.02)),
        )
    )


def readings_of(
    display: SimulatedDisplay, rng: np.random.Generator, seed: int = 1, scale: float = 1.0
) -> list[ReadingLine]:
    """The whole plan, read once; `scale` is what the meter multiplies all light by."""
    plan = reading_plan(seed, display.file.bits)
    truth = display.cd_m2([screen_codes(step.channel, step.code) for step in plan])
    read = display.measured(truth, rng) * scale
    return [
        ReadingLine(channel=step.channel, code=step.code, cd_m2=float(light))
        for step, light in zip(plan, read, strict=True)
    ]


def true_channels(display: SimulatedDisplay) -> np.ndarray:
    """True own light of each channel at codes 0 to 255 of an 8-bit display, shape (3, 256)."""
    return np.stack([display.channel_cd_m2(c, np.arange(CODES)) for c in range(3)])


def delivered(display: SimulatedDisplay, transfer: Transfer, contrast: float) -> float:
    """Contrast of the fundamental of a grey grating drawn by `transfer`, ideally dithered."""
    return fundamental(display, drawn_codes(transfer, contrast), np.array(transfer.mean_codes))


def fundamental(display: SimulatedDisplay, codes: np.ndarray, mean_codes: np.ndarray) -> float:
    """Contrast of the fundamental over the light of mean grey; codes (720, 3) and (3,)."""
    light = display.cd_m2(codes)
    return float(2 * np.mean(light * CARRIER) / display.cd_m2(mean_codes))


def drawn_codes(transfer: Transfer, contrast: float) -> np.ndarray:
    """Codes over one cycle, shape (720, 3)."""
    return transfer.to_codes(transfer.mean_luminance * (1 + contrast * CARRIER[:, None]))
