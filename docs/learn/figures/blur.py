"""What wrong glasses cost: contrast of a 0.5 c/deg grating lost by defocus, geometrical optics."""

from __future__ import annotations

import math

import numpy as np
from look import ALARM, LIMIT, axes_of, drawn, labelled, note, show
from scipy.special import j1

TITLE = "Contrast lost to blur at a pupil of 3 mm; coarse gratings hardly feel it."
COLUMNS = ("blur, dioptres", "at 0.5 cycles per degree, dB", "at 4 cycles per degree, dB")
PUPIL_M = 0.003


def blur_db(dioptres: float, cycles_per_deg: float, pupil_m: float = PUPIL_M) -> float:
    """Level change in dB of a grating seen through defocus: the disc of blur's transfer.

    A pupil of p metres out of focus by D dioptres spreads a point over p D radians; a uniform disc
    passes 2 J1(x) / x, x = pi f diameter.
    """
    x = math.pi * cycles_per_deg * math.degrees(pupil_m * dioptres)
    return 20 * math.log10(abs(2 * float(j1(x)) / x)) if x else 0.0


def rows():
    """One row an amount of blur."""
    for dioptres in (0.25, 0.5, 1, 2, 3, 6):
        fine = blur_db(dioptres, 4.0)
        yield f"{dioptres:g}", f"{round(blur_db(dioptres, 0.5), 2) + 0.0:.2f}", f"{fine:.1f}"


def svg() -> str:
    """Loss against blur for two gratings."""
    return drawn("lesson-blur", TITLE, "Contrast lost to blur.", _draw)


def _draw(figure):
    (axes,) = axes_of(figure, 1)
    dioptres = np.linspace(0, 6, 121)
    axes.plot(dioptres, [blur_db(d, 0.5) for d in dioptres], color=LIMIT, lw=2)
    axes.plot(dioptres, [max(blur_db(d, 4.0), -30) for d in dioptres], color=ALARM, lw=1.2)
    axes.set_ylim(-30, 2)
    note(axes, 4.2, -5.5, "0.5 cycles per degree", LIMIT)
    note(axes, 2.75, -17, "4 cycles per degree", ALARM)
    labelled(axes, "blur, dioptres", "change of contrast, dB")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
