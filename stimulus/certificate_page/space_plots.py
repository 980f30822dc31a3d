"""Uniformity, and what doubt in distance and a shifted head do to visual angle."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from analysis.figures.style import ALARM, FAINT, INK, LIMIT, MIST, SOFT
from calibration.angles import Pose, error_map, field_grid
from calibration.certificate import GeometryPart, RangePart, UniformityPart
from stimulus.certificate_page.plots import Picture, dressed, picture, plain_numbers

FIELD_RADIUS_DEG = 23.5
HEAD_SHIFT_CM = 1.0


def uniformity_picture(part: UniformityPart) -> Picture:
    """The screen with the share of the middle's light at each grid point."""

    def draw(figure: Figure) -> None:
        axes = figure.subplots()
        axes.set_axis_off()
        axes.set_aspect("equal")
        axes.add_patch(Rectangle((0, 0), part.columns + 1, part.rows + 1, fc="none", ec=INK, lw=1))
        for row, shares in enumerate(part.shares, start=1):
            for column, share in enumerate(shares, start=1):
                _spot(axes, column, row, share)
        axes.set_xlim(-0.1, part.columns + 1.1)
        axes.set_ylim(-0.1, part.rows + 1.1)

    return picture(
        "uniformity",
        "Luminance over the screen",
        f"A grid of {part.columns} by {part.rows} points; furthest from the middle: "
        f"{part.worst_share:.3f} of it.",
        f"Share of the middle's luminance; a ring's width is its distance from 1. {part.rule}.",
        draw,
    )


def _spot(axes: Axes, x: float, y: float, share: float) -> None:
    colour = LIMIT if share >= 1 else ALARM
    axes.add_patch(Circle((x, y), 0.3, fc="none", ec=FAINT, lw=1))
    axes.add_patch(Circle((x, y), 0.3, fc="none", ec=colour, lw=min(80 * abs(share - 1), 12)))
    axes.text(x, y, f"{share:.3f}", ha="center", va="center", fontsize=7.5, color=INK)


def angle_picture(part: GeometryPart) -> Picture:
    """Error of visual angle at each place when the eye is off by what is not known."""
    doubt_cm = part.distance_cm.expanded
    pose = Pose(part.distance_cm.value - doubt_cm, right_cm=HEAD_SHIFT_CM)
    x, y = field_grid(FIELD_RADIUS_DEG)
    wrong = error_map(x, y, part.distance_cm.value, pose).error_deg

    def draw(figure: Figure) -> None:
        axes = dressed(figure.subplots(), "degrees right of the mark", "degrees up")
        axes.set_aspect("equal")
        lines = axes.contour(x, y, wrong, levels=8, colors=[LIMIT], linewidths=0.9)
        axes.clabel(lines, fontsize=7, fmt="%.1f", colors=[INK])
        axes.add_patch(Circle((0, 0), FIELD_RADIUS_DEG, fc=MIST, ec=SOFT, lw=1, zorder=0.4))

    return picture(
        "angles",
        "Error of visual angle",
        f"Up to {np.nanmax(wrong):.2f} degrees.",
        f"Degrees, if the eye is {doubt_cm:.1f} cm nearer than measured (its expanded "
        f"uncertainty) and {HEAD_SHIFT_CM:g} cm to the right: up to {np.nanmax(wrong):.2f}.",
        draw,
        height_in=3.6,
    )


def range_picture(part: RangePart) -> Picture:
    """Contrasts the display shows truly, all channels together and one by one."""
    rows = {"grey": part.lowest_contrast} | part.lowest_by_channel

    def draw(figure: Figure) -> None:
        axes = dressed(figure.subplots(), "contrast, %", "")
        for row, lowest in enumerate(reversed(rows.values())):
            axes.plot(
                [100 * lowest, 100 * part.greatest_contrast], [row, row], color=LIMIT, lw=5,
                solid_capstyle="butt",
            )  # fmt: skip
        axes.set_xscale("log")
        plain_numbers(axes.xaxis)
        axes.set_xlim(0.01, 120)
        axes.set_yticks(range(len(rows)), list(reversed(rows)))
        axes.set_ylim(-0.6, len(rows) - 0.4)

    return picture(
        "range",
        "Contrasts that are shown truly",
        f"From {100 * part.lowest_contrast:.3f} % to {100 * part.greatest_contrast:.2f} %.",
        f"Within {100 * part.tolerance:g} % of nominal. Dither: {part.dither}. Slope at mean grey "
        f"known within {200 * part.contrast_relative_u:.2f} % (coverage factor 2).",
        draw,
        height_in=1.8,
    )
