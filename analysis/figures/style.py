"""The shared look: colours, type sizes, and settings under which every picture is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import matplotlib as mpl
from matplotlib.artist import Artist
from matplotlib.axes import Axes

INK = "#15303a"
SOFT = "#54686f"
FAINT = "#c8d2d3"
MIST = "#eef2f1"
RING = "#c9d4d4"
BAND = "#d5e6e2"
LIMIT = "#1f7269"
ALARM = "#a8321d"
CARD = "#ffffff"

PICTURE_WIDTH_PT = 245.0
"""Width of every picture at scale 1 in points; type sizes are meant for it."""


@dataclass(frozen=True)
class Look:
    """How large type and lines are drawn; 1 suits `PICTURE_WIDTH_PT`."""

    scale: float = 1.0

    @property
    def number(self) -> float:
        """Type size of the numbers a reader looks for, points."""
        return 9.0 * self.scale

    @property
    def label(self) -> float:
        """Type size of labels, points."""
        return 8.0 * self.scale

    @property
    def small(self) -> float:
        """Type size of keys and notes, points."""
        return 7.2 * self.scale

    def line(self, points: float) -> float:
        """A line width in points."""
        return points * self.scale


@contextmanager
def drawing(salt: str) -> Iterator[None]:
    """Settings of matplotlib for the time of drawing and saving; `salt` makes its ids our own."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(
            {
                "svg.fonttype": "none",
                "svg.hashsalt": salt,
                "pdf.fonttype": 42,
                "font.family": "DejaVu Sans",
                "text.parse_math": False,
                "text.color": INK,
                "path.simplify": False,
                "lines.solid_capstyle": "round",
            }
        )
        yield


def bare(axes: Axes) -> None:
    """Axes without frame, ticks or background."""
    axes.set_axis_off()
    axes.patch.set_visible(False)


def named(artist: Artist, name: str) -> None:
    """Give an artist the id it has in the SVG."""
    artist.set_gid(name)
