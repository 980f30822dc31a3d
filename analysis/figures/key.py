"""The key: small pictures of each sign with its words, for the page and for the printed sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle

from analysis.figures.disc import disc_radius, draw_open_ring, draw_unseen
from analysis.figures.ramp import DARKEST_FROM_DB, depth_colour
from analysis.figures.style import ALARM, CARD, INK, SOFT, Look

HEIGHT_PT = 16.0
FULL_RADIUS_PT = 7.0
Draw = Callable[[Axes, float, Look], None]


@dataclass(frozen=True)
class Sign:
    """A sign: width in points at scale 1, how it is drawn from a left edge, its words."""

    name: str
    width_pt: float
    draw: Draw
    words: str


def _ramp(axes: Axes, left: float, look: Look) -> None:
    steps, width = 48, 84.0
    for n, depth in enumerate(np.linspace(0.0, DARKEST_FROM_DB, steps)):
        axes.add_patch(
            Rectangle((left + n * width / steps, 5.0), width / steps + 0.2, 9.0, lw=0,
                      facecolor=depth_colour(float(depth)))
        )  # fmt: skip
    frame = Rectangle((left, 5.0), width, 9.0, fill=False, edgecolor=SOFT, lw=look.line(0.7))
    axes.add_patch(frame)
    for depth in (4.0, 8.0):
        x = left + width * depth / DARKEST_FROM_DB
        axes.plot([x, x], [2.5, 5.0], color=SOFT, lw=look.line(0.8))


def _sizes(axes: Axes, left: float, look: Look) -> None:
    x = left
    for width_db in (6.0, 12.0, 24.0):
        radius = disc_radius(width_db, FULL_RADIUS_PT)
        axes.add_patch(
            Circle((x + radius, 8.0), radius, facecolor=depth_colour(3.0), edgecolor=INK,
                   lw=look.line(0.8))
        )  # fmt: skip
        x += 2 * radius + 2.5


def _unseen(axes: Axes, left: float, look: Look) -> None:
    draw_unseen(axes, (left + 6.0, 8.0), 5.6, look)


def _open(axes: Axes, left: float, look: Look) -> None:
    draw_open_ring(axes, (left + 6.0, 8.0), 5.2, look)


def _answers(axes: Axes, left: float, look: Look) -> None:
    marks = (("o", INK, INK), ("o", CARD, INK), ("D", ALARM, ALARM), ("x", SOFT, SOFT))
    for n, (shape, face, edge) in enumerate(marks):
        axes.plot([left + 4 + 11 * n], [8.0], marker=shape, ms=look.line(5.0), mfc=face, mec=edge,
                  mew=look.line(1.0), ls="none")  # fmt: skip


SIGNS = (
    Sign("depth", 85.0, _ramp, "0, 4, 8, 12 dB and more below the limit"),
    Sign("size", 38.0, _sizes, "95 % interval of 6, 12, 24 dB: the larger, the surer"),
    Sign("unseen", 12.0, _unseen, "not seen at full contrast"),
    Sign("open", 12.0, _open, "not finished"),
    Sign("answers", 44.0, _answers, "seen, not seen, wrong catch answer, does not count"),
)

NOTES = (
    "In a disc: the place. Beside it: its level in contrast dB (more is better); "
    "≥ every time seen, < not seen at full contrast, ? less sure than not. "
    "Green band: the middle 98 % of the reference, white line its mean; an arrow is an open end. "
    "Presses: a long stroke decided an answer, a short red one did not."
)
