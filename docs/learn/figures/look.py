"""What the figures of the lessons share: the look of the project's own pages, and running alone.

`python docs/learn/figures/NAME.py` prints a figure's numbers; with a file name it draws it as well.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.figures.style import ALARM, FAINT, INK, LIMIT, SOFT
from analysis.plain_page.page import dressed, figure_svg, labelled

__all__ = [
    "ALARM", "FAINT", "INK", "LIMIT", "SOFT", "axes_of", "drawn", "labelled", "note", "percent",
    "show",
]  # fmt: skip
WIDE_IN = (6.6, 2.9)
Rows = Iterable[Sequence[object]]


def drawn(name: str, title: str, words: str, draw: Callable[[Figure], None]) -> str:
    """The figure as SVG; `words` describe it to those who cannot see it."""
    return figure_svg(name, name, title, words, WIDE_IN, draw)


def axes_of(figure: Figure, across: int = 2) -> list[Axes]:
    """Plain axes side by side."""
    return [dressed(figure.add_subplot(1, across, n + 1)) for n in range(across)]


def note(axes: Axes, x: float, y: float, text: str, colour: str = SOFT, **how: object) -> None:
    """A few words beside a line."""
    axes.annotate(text, (x, y), fontsize=7.5, color=colour, **how)


def percent(share: float, digits: int = 0) -> str:
    """A share in per cent, with a true minus sign."""
    return f"{100 * share:.{digits}f} %".replace("-", "\N{MINUS SIGN}")


def show(columns: Sequence[str], rows: Rows, svg: Callable[[], str]) -> None:
    """Print the numbers; draw into the file that the command names."""
    print("\t".join(columns))
    for row in rows:
        print("\t".join(str(cell) for cell in row))
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(svg())
