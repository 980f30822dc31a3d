"""What such a page holds, and its HTML."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from analysis.figures.style import FAINT, INK, SOFT, drawing
from analysis.figures.svg import inline_svg
from analysis.report import scheme
from analysis.report.facts import Fact
from analysis.report.rows import Table
from analysis.report.templating import templates
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from protocols.write import write_whole


@dataclass(frozen=True)
class Picture:
    """A picture with a title above and a note below; `small` ones stand several in a row."""

    kind: str
    title: str
    svg: str
    note: str = ""
    small: bool = False


@dataclass(frozen=True)
class Part:
    """A part of the page: a title, what it says, pictures and tables."""

    anchor: str
    title: str
    sentences: tuple[str, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True)
class Page:
    """The whole page."""

    subtitle: str
    heading: str
    facts: tuple[Fact, ...]
    warnings: tuple[str, ...]
    parts: tuple[Part, ...]


def page_html(page: Page) -> str:
    """The page as HTML."""
    return templates("analysis.plain_page", "analysis.report").get_template("plain.html.j2").render(
        page=page,
        research_only=RESEARCH_ONLY,
        light=scheme.declarations(dark=False),
        dark=scheme.declarations(dark=True),
    )


def write_page(page: Page, out: Path) -> Path:
    """Write it as .html; returns the path. Raises InputError for another suffix or no folder."""
    require_html(out)
    write_whole(out, page_html(page).encode())
    return out


def require_html(out: Path, parameter: str = "page") -> None:
    """Raise InputError unless a page can be written under this name."""
    if out.suffix.lower() != ".html":
        raise InputError(parameter, str(out), "a name that ends in .html", "Rename the page.")
    if not out.parent.is_dir():
        raise InputError(
            parameter, str(out), "a name in a folder that exists", "Make the folder first."
        )


def picture(
    kind: str,
    title: str,
    words: str,
    size_in: tuple[float, float],
    draw: Callable[[Axes], None],
    note: str = "",
    small: bool = False,
) -> Picture:
    """Draw on plain axes of this size; `words` describe the picture to those who cannot see it."""
    svg = figure_svg(
        kind, kind, title, words, size_in, lambda figure: draw(dressed(figure.add_subplot()))
    )
    return Picture(kind, title, svg, note, small)


def figure_svg(
    kind: str,
    name: str,
    title: str,
    words: str,
    size_in: tuple[float, float],
    draw: Callable[[Figure], None],
) -> str:
    """Draw a whole figure, as SVG whose ids begin with `name`."""
    with drawing(kind):
        figure = Figure(size_in, layout="constrained")
        FigureCanvasAgg(figure)
        draw(figure)
        return scheme.themed(inline_svg(figure, name, title, words))


def dressed(axes: Axes) -> Axes:
    """Light grid, no box, small type."""
    axes.tick_params(labelsize=7.5, colors=SOFT, length=0)
    axes.grid(color=FAINT, lw=0.5)
    axes.set_axisbelow(True)
    axes.patch.set_visible(False)
    for name, spine in axes.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_color(INK)
    return axes


def labelled(axes: Axes, x: str, y: str) -> None:
    """Labels of both axes."""
    axes.set_xlabel(x, fontsize=8, color=SOFT)
    axes.set_ylabel(y, fontsize=8, color=SOFT)
