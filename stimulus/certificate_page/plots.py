"""Axes in the shared look, and a figure turned into a picture for the page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from analysis.figures.style import FAINT, INK, SOFT, drawing
from analysis.figures.svg import inline_svg
from analysis.report.scheme import themed

WIDTH_IN, HEIGHT_IN = 3.5, 2.3
"""So narrow that type of 7.5 points is at least as many pixels on a page 320 px wide."""


@dataclass(frozen=True)
class Picture:
    """A picture with a title above and a note below."""

    kind: str
    title: str
    svg: str
    note: str


def picture(
    kind: str,
    title: str,
    words: str,
    note: str,
    draw: Callable[[Figure], None],
    height_in: float = HEIGHT_IN,
) -> Picture:
    """Draw a figure; `words` describe it to those who cannot see it."""
    with drawing(kind):
        figure = Figure((WIDTH_IN, height_in), layout="constrained")
        FigureCanvasAgg(figure)
        draw(figure)
        svg = themed(inline_svg(figure, f"certificate-{kind}", title, words))
    return Picture(kind, title, svg, note)


def plain_numbers(axis: Axis) -> None:
    """Tick labels of a logarithmic axis as plain numbers, decades only."""
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_formatter(NullFormatter())


def dressed(axes: Axes, x_label: str, y_label: str) -> Axes:
    """Labels, light grid, no box."""
    axes.set_xlabel(x_label, fontsize=8, color=SOFT)
    axes.set_ylabel(y_label, fontsize=8, color=SOFT)
    axes.tick_params(labelsize=7.5, colors=SOFT, length=0)
    axes.tick_params(which="minor", length=0)
    axes.grid(color=FAINT, lw=0.5)
    axes.set_axisbelow(True)
    axes.patch.set_visible(False)
    for name, spine in axes.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_color(INK)
    return axes
