"""Where a number can stand beside its disc without touching another disc, number or word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import hypot

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath


@dataclass(frozen=True)
class Box:
    """A rectangle by centre, width and height, in field degrees."""

    x: float
    y: float
    width: float
    height: float

    def overlaps(self, other: Box) -> bool:
        """Whether two boxes share any area."""
        return (
            abs(self.x - other.x) < (self.width + other.width) / 2
            and abs(self.y - other.y) < (self.height + other.height) / 2
        )


@dataclass(frozen=True)
class Disc:
    """A disc by centre and radius, in field degrees."""

    x: float
    y: float
    radius: float

    def touches(self, box: Box) -> bool:
        """Whether the disc reaches into a box."""
        dx = max(abs(self.x - box.x) - box.width / 2, 0.0)
        dy = max(abs(self.y - box.y) - box.height / 2, 0.0)
        return hypot(dx, dy) < self.radius


@cache
def text_width_pt(
    text: str, size_pt: float, family: str = "DejaVu Sans", weight: str = "normal"
) -> float:
    """Width of a text in points, in the typeface the pictures are laid out with."""
    width, _, _ = TextToPath().get_text_width_height_descent(
        text, FontProperties(family=family, size=size_pt, weight=weight), False
    )
    return float(width)


def place_labels(
    discs: Sequence[Disc], sizes: Sequence[tuple[float, float]], taken: Sequence[Box], gap: float
) -> list[Box]:
    """A box for the label of each disc: width and height as given, at the freest near position.

    Sizes and gap are in units of the axes.
    """
    boxes: list[Box] = []
    for disc, size in zip(discs, sizes, strict=True):
        candidates = _around(disc, size, gap)
        boxes.append(min(candidates, key=lambda box: _clashes(box, discs, [*taken, *boxes])))
    return boxes


def _around(disc: Disc, size: tuple[float, float], gap: float) -> list[Box]:
    """Positions round a disc, the best liked first: outward, inward, beside, then the corners."""
    width, height = size
    up = (disc.radius + gap + height / 2) * (1 if disc.y > 0 else -1)
    side = disc.radius + gap + width / 2
    steps = [(0.0, up), (0.0, -up), (side, 0.0), (-side, 0.0)]
    steps += [(sx * 0.75 * side, sy * 0.75 * up) for sy in (1, -1) for sx in (1, -1)]
    return [Box(disc.x + dx, disc.y + dy, width, height) for dx, dy in steps]


def _clashes(box: Box, discs: Sequence[Disc], taken: Sequence[Box]) -> int:
    return sum(disc.touches(box) for disc in discs) + sum(box.overlaps(other) for other in taken)
