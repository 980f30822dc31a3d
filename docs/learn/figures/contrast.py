"""Contrast and its scale in dB, with the smallest step that plain 8 bits can show."""

from __future__ import annotations

import numpy as np
from look import ALARM, FAINT, INK, LIMIT, axes_of, drawn, labelled, note, percent, show

from calibration.transfer import linear
from protocols.levels import contrast_from_db

TITLE = "Left: luminance across a patch at three levels. Right: ten times less for each 20 dB."
COLUMNS = ("level, dB", "contrast", "steps of plain 8 bits about mid grey")
LEVELS_DB = (0, 6, 10, 20, 26, 30, 40, 46)


def rows():
    """One row a level."""
    step = linear().step_contrast(127)
    for level in LEVELS_DB:
        contrast = float(contrast_from_db(level))
        yield level, percent(contrast, 2), f"{contrast / step:.1f}"


def svg() -> str:
    """Gratings on the left, the scale on the right."""
    return drawn("lesson-contrast", TITLE, "Luminance of gratings; contrast against dB.", _draw)


def _draw(figure):
    light, scale = axes_of(figure)
    x_deg = np.linspace(-3.5, 3.5, 701)
    edge = np.clip((3.5 - np.abs(x_deg)) / 1.0, 0, 1)
    window = 0.5 - 0.5 * np.cos(np.pi * edge)
    for level, colour, width in ((0, FAINT, 1.5), (10, INK, 1.0), (20, LIMIT, 2.0)):
        wave = float(contrast_from_db(level)) * window * np.sin(2 * np.pi * 0.5 * x_deg)
        light.plot(x_deg, 100 * (1 + wave), color=colour, lw=width)
    note(light, 0.55, 203, "0 dB", ha="left")
    note(light, 1.15, 133, "10 dB", INK, ha="left")
    note(light, -3.5, 120, "20 dB", LIMIT)
    light.set_ylim(-5, 220)
    labelled(light, "across the patch, degrees", "luminance, % of mean grey")
    level_db = np.linspace(0, 50, 101)
    scale.semilogy(level_db, 100 * contrast_from_db(level_db), color=LIMIT, lw=2)
    scale.axhline(100 * linear().step_contrast(127), color=ALARM, lw=1, ls=(0, (4, 2)))
    note(scale, 1, 0.42, "below this line: only by dithering", ALARM)
    scale.set_yticks([0.3, 1, 3, 10, 30, 100], ["0.3", "1", "3", "10", "30", "100"])
    scale.minorticks_off()
    labelled(scale, "level, dB", "contrast, %")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
