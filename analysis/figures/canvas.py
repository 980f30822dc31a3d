"""Paper for a picture: a figure measured in points, or a window of a larger one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from analysis.figures.style import bare, drawing

POINTS_PER_INCH = 72.0


@contextmanager
def paper(width_pt: float, height_pt: float, salt: str) -> Iterator[tuple[Figure, Axes]]:
    """A figure of this size in points and axes over all of it, whose unit is one point."""
    with drawing(salt):
        figure = Figure((width_pt / POINTS_PER_INCH, height_pt / POINTS_PER_INCH))
        FigureCanvasAgg(figure)
        yield figure, window(figure, (0.0, 0.0, 1.0, 1.0), width_pt, height_pt)


def window(
    figure: Figure, box: tuple[float, float, float, float], width: float, height: float
) -> Axes:
    """Bare axes at a box (left, bottom, width, height as shares) that span `width` by `height`."""
    axes = figure.add_axes(box)
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    bare(axes)
    return axes
