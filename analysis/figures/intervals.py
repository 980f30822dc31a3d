"""All places of an eye sorted by deviation, each with its 95 % interval against the reference.

One row a place, the deepest first. Zero is the limit: the level that 99 % of people of that age
see. The band holds the middle 98 % of the reference. An arrow marks an end the answers leave open.
The numbers stand in the same row, so the picture is a table as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from analysis.figures.disc import draw_disc
from analysis.figures.style import (
    BAND,
    CARD,
    INK,
    LIMIT,
    PICTURE_WIDTH_PT,
    RING,
    SOFT,
    Look,
    named,
)
from analysis.figures.words import MINUS, interval_text, is_finished, level_text
from analysis.result import PlaceResult

ROW_PT = 9.6
HEAD_PT = 18.0
FOOT_PT = 21.0
PLOT_LEFT_PT, PLOT_RIGHT_PT = 20.0, 148.0
LEVEL_RIGHT_PT = 183.0
LOWEST_DB, HIGHEST_DB = -30.0, 20.0
TICK_STEP_DB = 10
DISC_RADIUS_PT = 3.4
THIN = 0.65
"""Lines of the small discs against those of the field."""
ARROW_PT = 3.5


@dataclass(frozen=True)
class Scale:
    """Deviation in dB to points across."""

    low_db: float = LOWEST_DB
    high_db: float = HIGHEST_DB

    def x(self, value_db: float) -> float:
        """Points from the left; deviations beyond the ends are drawn at the end."""
        share = (value_db - self.low_db) / (self.high_db - self.low_db)
        return PLOT_LEFT_PT + min(max(share, 0.0), 1.0) * (PLOT_RIGHT_PT - PLOT_LEFT_PT)


def height_pt(places: Sequence[PlaceResult]) -> float:
    """Height of the picture at scale 1, points."""
    return HEAD_PT + ROW_PT * len(places) + FOOT_PT


def sorted_places(places: Sequence[PlaceResult]) -> list[PlaceResult]:
    """Places by deviation from the limit, the deepest first, unfinished ones last."""
    return sorted(places, key=lambda p: (not is_finished(p), deviation_db(p), p.number))


def deviation_db(place: PlaceResult) -> float:
    """Estimate less limit, dB; 0 where there is no estimate."""
    return 0.0 if place.estimate_db is None else place.estimate_db - place.limit_db


def draw_intervals(axes: Axes, places: Sequence[PlaceResult], look: Look, name: str) -> None:
    """Draw on axes spanned `PICTURE_WIDTH_PT` by `height_pt(places)`.

    Ids in the SVG: `name`-row-N, `name`-level-N, `name`-interval-N, `name`-whisker-N.
    """
    scale, top = Scale(), height_pt(places)
    _band(axes, places, scale, top, look)
    _axis(axes, scale, top, look, name)
    _head(axes, top, look, name)
    for row, place in enumerate(sorted_places(places)):
        y = top - HEAD_PT - ROW_PT * (row + 0.5)
        _row(axes, place, y, scale, look, name)


def _band(
    axes: Axes, places: Sequence[PlaceResult], scale: Scale, top: float, look: Look
) -> None:
    """The middle 98 % of the reference: from the limit to as far above its mean."""
    if not places:
        return
    half_db = sum(p.reference_mean_db - p.limit_db for p in places) / len(places)
    left, right = scale.x(0.0), scale.x(2 * half_db)
    height = top - HEAD_PT - FOOT_PT
    axes.add_patch(Rectangle((left, FOOT_PT), right - left, height, facecolor=BAND, zorder=0))
    mean = scale.x(half_db)
    axes.plot([mean, mean], [FOOT_PT, top - HEAD_PT], color=CARD, lw=look.line(1.0), zorder=1)


def _axis(axes: Axes, scale: Scale, top: float, look: Look, name: str) -> None:
    for tick in range(int(scale.low_db), int(scale.high_db) + 1, TICK_STEP_DB):
        x = scale.x(tick)
        if tick:
            axes.plot([x, x], [FOOT_PT, top - HEAD_PT], color=RING, lw=look.line(0.6), zorder=0.5)
        text = axes.text(
            x, FOOT_PT - 3, _signed(tick), ha="center", va="top", fontsize=look.small, color=SOFT
        )
        named(text, f"{name}-tick-{tick}")
    zero = scale.x(0.0)
    axes.plot([zero, zero], [FOOT_PT, top - HEAD_PT], color=LIMIT, lw=look.line(1.4), zorder=2)
    middle = (PLOT_LEFT_PT + PLOT_RIGHT_PT) / 2
    text = axes.text(
        middle, 2, "dB from the limit", ha="center", va="bottom", fontsize=look.small, color=SOFT
    )
    named(text, f"{name}-axis-word")


def _signed(tick: int) -> str:
    return f"+{tick}" if tick > 0 else str(tick).replace("-", MINUS)


def _head(axes: Axes, top: float, look: Look, name: str) -> None:
    heads = (
        (LEVEL_RIGHT_PT, "level, dB", "right", SOFT),
        (PICTURE_WIDTH_PT - 1, "95 % interval", "right", SOFT),
        (1.0, "place", "left", SOFT),
        (Scale().x(0.0), "limit", "right", LIMIT),
        (Scale().x(0.0) + 3, "reference", "left", LIMIT),
    )
    for number, (x, word, side, colour) in enumerate(heads):
        text = axes.text(
            x, top - 9, word, ha=side, va="center_baseline", fontsize=look.small, color=colour
        )
        named(text, f"{name}-head-{number}")


def _row(
    axes: Axes, place: PlaceResult, y: float, scale: Scale, look: Look, name: str
) -> None:
    parts = (
        (13.0, str(place.number), "row", SOFT),
        (LEVEL_RIGHT_PT, level_text(place), "level", INK),
        (PICTURE_WIDTH_PT - 1, interval_text(place), "interval", INK),
    )
    for x, words, part, colour in parts:
        text = axes.text(
            x, y, words, ha="right", va="center_baseline", fontsize=look.small, color=colour
        )
        named(text, f"{name}-{part}-{place.number}")
    _whisker(axes, place, y, scale, look, f"{name}-whisker-{place.number}")
    middle = scale.x(deviation_db(place))
    if is_finished(place):
        draw_disc(axes, (middle, y), DISC_RADIUS_PT, place, Look(THIN * look.scale))


def _whisker(
    axes: Axes, place: PlaceResult, y: float, scale: Scale, look: Look, gid: str
) -> None:
    low, high = (end - place.limit_db for end in place.interval_db)
    dashed = "-" if is_finished(place) else (0, (2, 2))
    (line,) = axes.plot(
        [scale.x(low), scale.x(high)], [y, y], color=INK, lw=look.line(1.1), ls=dashed, zorder=3,
        solid_capstyle="butt",
    )  # fmt: skip
    named(line, gid)
    for end, beyond, sign in (
        (low, place.bound == "at most" or low < scale.low_db, -1),
        (high, place.bound == "at least" or high > scale.high_db, 1),
    ):
        _end(axes, scale.x(end), y, sign if beyond else 0, look)


def _end(axes: Axes, x: float, y: float, sign: int, look: Look) -> None:
    """An arrowhead where the end is open, a short bar where it is not."""
    if sign:
        xs, ys = [x - sign * ARROW_PT, x, x - sign * ARROW_PT], [y + 2.2, y, y - 2.2]
    else:
        xs, ys = [x, x], [y + 2.0, y - 2.0]
    axes.plot(xs, ys, color=INK, lw=look.line(1.1), zorder=3, solid_capstyle="butt")
