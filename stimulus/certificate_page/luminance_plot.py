"""Luminance by code: readings, fitted curves, and what is left between them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.figures.style import ALARM, INK, LIMIT
from analysis.plain_page.page import Picture
from calibration.certificate import GammaPart
from calibration.gamma import light_of
from calibration.readings import COLOURS
from protocols.field import Floats
from stimulus.certificate_page.plots import dressed, picture

BLUE = "#4a78c4"
LOOKS = {
    "red": (ALARM, "o", "-"),
    "green": (LIMIT, "s", "--"),
    "blue": (BLUE, "^", ":"),
    "white": (INK, "x", "-."),
}


def luminance_picture(part: GammaPart) -> Picture:
    """Curves of the channels with readings; residuals below as a share of the fit."""
    lights = fitted(part)

    def draw(figure: Figure) -> None:
        curve, rest = figure.subplots(2, 1, sharex=True, height_ratios=[2.2, 1])
        _curves(dressed(curve, "", "cd/m2"), part, lights)
        _residuals(dressed(rest, "code value", "reading less fit, %"), part, lights)

    return picture(
        "luminance",
        "Luminance by code value",
        f"{len(part.readings)} readings and the fitted curve of each channel; below, how far "
        "each reading is from its curve.",
        "Marks are readings, lines the fits; below, readings less fit as a share of the fit.",
        draw,
        height_in=3.3,
    )


def fitted(part: GammaPart) -> dict[str, Floats]:
    """Light of each channel alone on the screen at every code of the drawn table, cd/m2.

    Shape (codes,) each.
    """
    screen = light_of(part).screen_cd_m2
    names = COLOURS if len(screen) == len(COLOURS) else ("white",)
    return dict(zip(names, screen, strict=True))


def _curves(axes: Axes, part: GammaPart, lights: Mapping[str, Floats]) -> None:
    codes = np.linspace(0, 2**part.bits - 1, 256)
    for name, light in lights.items():
        colour, mark, line = LOOKS[name]
        axes.plot(codes, light, line, color=colour, lw=1.2)
        read = _read(part, name)
        axes.plot(*read, mark, color=colour, ms=3, mfc="none", mew=0.8, label=name)
    axes.legend(fontsize=7.5, frameon=False)


def _residuals(axes: Axes, part: GammaPart, lights: Mapping[str, Floats]) -> None:
    codes = np.linspace(0, 2**part.bits - 1, 256)
    axes.axhline(0, color=INK, lw=0.8)
    for name, light in lights.items():
        colour, mark, _ = LOOKS[name]
        at, read = _read(part, name)
        fit = np.interp(at, codes, light)
        bright = fit > 0.02 * light[-1]
        off = 100 * (read[bright] / fit[bright] - 1)
        axes.plot(at[bright], off, mark, color=colour, ms=2.5, mfc="none", mew=0.7)


def _read(part: GammaPart, name: str) -> tuple[Floats, Floats]:
    lines: Iterable[tuple[int, float]] = (
        (line.code, line.cd_m2) for line in part.readings if line.channel == name
    )
    found = np.array(sorted(lines), float).reshape(-1, 2)
    return found[:, 0], found[:, 1]
