"""What dithering costs: error of the delivered contrast, and how visible its noise is.

Visible noise is the root-mean-square contrast of what was drawn less what was wanted, after the
eye's blur in time and space: a moving mean over 0.1 s (temporal summation; Barlow 1958, J Physiol
141:337, from memory) and the contrast sensitivity of Mannos & Sakrison 1974, IEEE Trans Inf Theory
20:525, scaled to 1 at its peak (its constants from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.dither import Codes, Dither
from calibration.transfer import Transfer
from protocols.field import Floats
from protocols.grating import FramePlan

SUMMATION_S = 0.1


@dataclass(frozen=True)
class DitherScore:
    """Errors over several seeds: all as shares; `noise_rms` before any blur."""

    contrast_bias: float
    contrast_sd: float
    noise_rms: float
    visible_rms: float


def sensitivity(frequency_cpd: ArrayLike) -> Floats:
    """Mannos and Sakrison's contrast sensitivity, 1 at its peak near 8 c/deg; any shape.

    >>> round(float(sensitivity(8.0)), 2)
    1.0
    """
    scaled = 0.114 * np.asarray(frequency_cpd, float)
    return np.asarray(2.6 * (0.0192 + scaled) * np.exp(-(scaled**1.1)) / 0.98183, float)


def luminance_swing(codes: Codes, transfer: Transfer, weights: Floats) -> Floats:
    """Light over mean grey less 1 of drawn codes; channels weighted (3,); shape (frames, h, w)."""
    tables = transfer.luminance / transfer.mean_luminance[:, None] - 1
    parts = [w * tables[c][codes[..., c]] for c, w in enumerate(weights / np.sum(weights))]
    return np.asarray(np.sum(parts, axis=0), float)


def delivered_contrast(swing: Floats, factors: Floats, modulation: Floats) -> float:
    """Contrast that best explains all frames by the model, least squares.

    Swing (frames, h, w), factors (frames,), modulation (h, w).
    """
    model = factors[:, None, None] * modulation
    return float(np.sum(swing * model) / np.sum(model**2))


def visible_noise(noise: Floats, degrees_per_px: float, refresh_hz: float) -> float:
    """Root-mean-square of noise (frames, h, w) after the eye's blur in time and space."""
    length = max(1, round(SUMMATION_S * refresh_hz))
    summed = np.cumsum(np.concatenate([np.zeros_like(noise[:1]), noise]), axis=0)
    smooth = (summed[length:] - summed[:-length]) / length
    across, up = (np.fft.fftfreq(n, degrees_per_px) for n in noise.shape[2:0:-1])
    weight = sensitivity(np.hypot(across, up[:, None]))
    seen = np.fft.ifft2(np.fft.fft2(smooth) * weight).real
    return float(np.sqrt(np.mean(seen**2)))


def score_dither(
    dither: Dither,
    transfer: Transfer,
    contrast: float,
    plan: FramePlan,
    modulation: Floats,
    degrees_per_px: float,
    seeds: range,
    weights: Floats,
) -> DitherScore:
    """Present a patch once for each seed and hold it against what was wanted.

    Modulation (h, w) as a share of mean grey, weights of channels (3,).
    """
    amplitudes, rows = contrast * plan.factors, []
    wanted = amplitudes[:, None, None] * modulation
    for seed in seeds:
        codes = dither(amplitudes, modulation, transfer, plan.frames_per_cycle, seed)
        swing = luminance_swing(codes, transfer, weights)
        error = delivered_contrast(swing, plan.factors, modulation) / contrast - 1
        noise = swing - wanted
        seen = visible_noise(noise, degrees_per_px, plan.refresh_hz)
        rows.append((error, float(np.sqrt(np.mean(noise**2))), seen))
    errors, plain, visible = np.array(rows).T
    means = [float(np.mean(values)) for values in (plain, visible)]
    return DitherScore(float(np.mean(errors)), float(np.std(errors)), *means)
