"""One place as a disc: area for certainty, colour for depth, own sign where nothing was seen."""

from __future__ import annotations

from math import sqrt

from matplotlib.axes import Axes
from matplotlib.patches import Circle

from analysis.figures.ramp import DARKEST_FROM_DB, depth_colour
from analysis.figures.style import CARD, INK, SOFT, Look
from analysis.figures.words import is_finished
from analysis.result import PlaceResult

FULL_SIZE_DB = 6.0
"""Width of the 95 % interval up to which a disc has its full size."""


def disc_radius(width_db: float, full_radius: float) -> float:
    """Radius of a disc whose area falls as its interval widens, in the unit of `full_radius`.

    >>> disc_radius(24.0, 2.0)
    1.0
    """
    return full_radius * sqrt(min(1.0, FULL_SIZE_DB / width_db))


def place_radius(place: PlaceResult, full_radius: float) -> float:
    """Radius of a place's disc, in the unit of `full_radius`; unfinished rings have one size."""
    if not is_finished(place):
        return 0.6 * full_radius
    low, high = place.interval_db
    return disc_radius(high - low, full_radius)


def place_colour(place: PlaceResult) -> tuple[float, float, float]:
    """Colour of a place: how far it lies below the limit."""
    if place.bound == "at most" or place.below_limit_db is None:
        return depth_colour(DARKEST_FROM_DB)
    return depth_colour(place.below_limit_db)


def draw_disc(
    axes: Axes, centre: tuple[float, float], radius: float, place: PlaceResult, look: Look
) -> Circle:
    """Draw a place at `centre` (axes units); returns its outline."""
    if not is_finished(place):
        return draw_open_ring(axes, centre, radius, look)
    if place.bound == "at most":
        return draw_unseen(axes, centre, radius, look)
    outline = Circle(
        centre, radius, facecolor=place_colour(place), edgecolor=INK, lw=look.line(0.8), zorder=4
    )
    axes.add_patch(outline)
    return outline


def draw_unseen(
    axes: Axes, centre: tuple[float, float], radius: float, look: Look
) -> Circle:
    """Not seen at full contrast: a dark disc with a pale ring in it."""
    dark = depth_colour(DARKEST_FROM_DB)
    outline = Circle(centre, radius, facecolor=dark, edgecolor=INK, lw=look.line(0.8), zorder=4)
    axes.add_patch(outline)
    pale = depth_colour(0.0)
    axes.add_patch(
        Circle(centre, 0.72 * radius, fill=False, edgecolor=pale, lw=look.line(1.3), zorder=4.1)
    )
    return outline


def draw_open_ring(
    axes: Axes, centre: tuple[float, float], radius: float, look: Look
) -> Circle:
    """Not finished: an open dashed ring. Centre and radius in units of the axes."""
    ring = Circle(
        centre, radius, facecolor=CARD, edgecolor=SOFT, lw=look.line(1.0), ls=(0, (3, 2)), zorder=4
    )
    axes.add_patch(ring)
    return ring
