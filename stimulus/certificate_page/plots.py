"""Axes in the shared look, and a figure turned into a picture for the page."""

from __future__ import annotations

from collections.abc import Callable

from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from analysis.plain_page.page import Picture, figure_svg, labelled
from analysis.plain_page.page import dressed as plainly_dressed

WIDTH_IN, HEIGHT_IN = 3.5, 2.3
"""So narrow that type of 7.5 points is at least as many pixels on a page 320 px wide."""


def picture(
    kind: str,
    title: str,
    words: str,
    note: str,
    draw: Callable[[Figure], None],
    height_in: float = HEIGHT_IN,
) -> Picture:
    """Draw a figure; `words` describe it to those who cannot see it."""
    size_in = (WIDTH_IN, height_in)
    svg = figure_svg(kind, f"certificate-{kind}", title, words, size_in, draw)
    return Picture(kind, title, svg, note)


def plain_numbers(axis: Axis) -> None:
    """Tick labels of a logarithmic axis as plain numbers, decades only."""
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_formatter(NullFormatter())


def dressed(axes: Axes, x_label: str, y_label: str) -> Axes:
    """Labels, light grid, no box."""
    labelled(axes, x_label, y_label)
    axes.tick_params(which="minor", length=0)
    return plainly_dressed(axes)
