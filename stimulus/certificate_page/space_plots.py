"""Light and contrast over the screen; what doubt in distance and a shifted head do to angles."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from analysis.figures.style import ALARM, FAINT, INK, LIMIT, MIST, SOFT
from analysis.plain_page.page import Picture
from calibration.angles import Pose, error_map, field_grid
from calibration.certificate import ContrastMapPart, GeometryPart, RangePart, UniformityPart
from calibration.uniformity import LEAST_CONTRAST
from stimulus.certificate_page.plots import dressed, picture, plain_numbers

FIELD_RADIUS_DEG = 23.5
HEAD_SHIFT_CM = 1.0
SCREEN_IN = 2.35
RING = 0.22


def uniformity_picture(part: UniformityPart) -> Picture:
    """The screen with the share of the middle's light at each grid point."""
    return picture(
        "uniformity",
        "Luminance over the screen",
        f"A grid of {part.columns} by {part.rows} points; furthest from the middle: "
        f"{part.worst_share:.3f} of it.",
        "Share of the middle's luminance at mean grey; a ring's width is its distance from 1, red "
        f"is below. Rule: {part.rule}.",
        lambda figure: _screen(figure, part.shares),
        height_in=SCREEN_IN,
    )


def contrast_picture(part: ContrastMapPart) -> Picture:
    """The screen with the share of the middle's contrast that is left at each grid point."""
    return picture(
        "contrast",
        "Contrast over the screen",
        f"The same grid; lowest contrast: {part.worst_share:.3f} of the middle's.",
        "Share of the middle's contrast, from full and no light at every point: what light that is "
        f"added there leaves. Refused below {LEAST_CONTRAST:g}.",
        lambda figure: _screen(figure, part.shares),
        height_in=SCREEN_IN,
    )


def _screen(figure: Figure, table: list[list[float]]) -> None:
    axes = figure.subplots()
    axes.set_axis_off()
    axes.set_aspect("equal")
    rows, columns = len(table), len(table[0])
    axes.add_patch(Rectangle((0, 0), columns + 1, rows + 1, fc="none", ec=INK, lw=1))
    for row, shares in enumerate(table, start=1):
        for column, share in enumerate(shares, start=1):
            _spot(axes, column, row, share)
    axes.set_xlim(-0.1, columns + 1.1)
    axes.set_ylim(-0.1, rows + 1.1)


def _spot(axes: Axes, x: float, y: float, share: float) -> None:
    """A ring with its number below, so that a wide ring covers none."""
    colour, at = LIMIT if share >= 1 else ALARM, (x, y + 0.12)
    axes.add_patch(Circle(at, RING, fc="none", ec=FAINT, lw=1))
    axes.add_patch(Circle(at, RING, fc="none", ec=colour, lw=min(50 * abs(share - 1), 7)))
    axes.text(x, y - 0.38, f"{share:.3f}", ha="center", va="center", fontsize=7.5, color=INK)


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
        height_in=3.2,
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
            axes.text(
                100 * lowest, row + 0.2, f"{100 * lowest:.3f} %", fontsize=7.5, color=INK
            )
        axes.set_xscale("log")
        plain_numbers(axes.xaxis)
        axes.set_xlim(0.01, 120)
        axes.set_yticks(range(len(rows)), list(reversed(rows)))
        axes.set_ylim(-0.5, len(rows) - 0.2)

    return picture(
        "range",
        "Contrasts that are shown truly",
        f"From {100 * part.lowest_contrast:.3f} % to {100 * part.greatest_contrast:.2f} %.",
        f"Within {100 * part.tolerance:g} % of nominal. Dither: {part.dither}. Slope at mean grey "
        f"known within {200 * part.contrast_relative_u:.2f} % (coverage factor 2).",
        draw,
        height_in=2.0,
    )
