"""The round field of an eye in true degrees: every place a disc, with its level beside it.

The axes are spanned in degrees as the participant sees them, x to the right and y up, so that a
place is drawn where it was shown. Area tells certainty, colour tells depth, a ring in the disc says
"not seen at full contrast", the number in a disc names the place.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Ellipse

from analysis.figures.disc import draw_disc, place_colour, place_radius
from analysis.figures.labels import Box, Disc, place_labels, text_width_pt
from analysis.figures.ramp import depth_colour, is_dark
from analysis.figures.style import (
    CARD,
    INK,
    MIST,
    PICTURE_WIDTH_PT,
    RING,
    SOFT,
    Look,
    named,
)
from analysis.figures.words import is_finished, level_text
from analysis.result import PlaceResult
from protocols.field import Eye, Place, for_eye, temporal_sign
from protocols.pattern import BLIND_SPOT_HALF_SIZE_DEG, BLIND_SPOT_PLACE

FULL_RADIUS_DEG = 2.6
PATCH_RADIUS_DEG = 3.5
MARGIN_DEG = 1.3
RING_STEP_DEG = 10
LABEL_GAP_DEG = 0.35
HEIGHT_PT = PICTURE_WIDTH_PT


def field_radius_deg(places: Sequence[PlaceResult]) -> float:
    """Eccentricity of the drawn outline: round all patches."""
    farthest = max((Place(p.x_deg, p.y_deg).eccentricity_deg for p in places), default=20.0)
    return max(ceil(farthest + PATCH_RADIUS_DEG), 12) + 1.5


def draw_field(axes: Axes, eye: Eye, places: Sequence[PlaceResult], look: Look, name: str) -> None:
    """Draw the field of an eye on bare axes; the axes are spanned in degrees.

    Ids in the SVG: `name`-disc-N, `name`-number-N (inside the disc), `name`-level-N (beside it).
    """
    edge = field_radius_deg(places)
    half = edge + MARGIN_DEG
    axes.set_xlim(-half, half)
    axes.set_ylim(-half, half)
    deg_per_pt = 2 * half / PICTURE_WIDTH_PT
    taken = _ground(axes, eye, edge, look, deg_per_pt, name)
    discs = [Disc(p.x_deg, p.y_deg, place_radius(p, FULL_RADIUS_DEG)) for p in places]
    for place, disc in zip(places, discs, strict=True):
        _draw_place(axes, place, disc, look, name)
    rings = [Box(d.x, d.y, 2 * d.radius, 2 * d.radius) for p, d in zip(places, discs, strict=True)
             if not is_finished(p)]  # fmt: skip
    taken = [*taken, *rings, *_outside(half)]
    _draw_levels(axes, places, discs, taken, look, deg_per_pt, name)


def _ground(
    axes: Axes, eye: Eye, edge: float, look: Look, deg_per_pt: float, name: str
) -> list[Box]:
    """Outline, rings, blind spot and words; returns the boxes that stay free of numbers."""
    outline = Circle((0, 0), edge, facecolor=MIST, edgecolor=SOFT, lw=look.line(1.1), zorder=0)
    named(outline, f"{name}-outline")
    axes.add_patch(outline)
    rings = _rings(axes, eye, edge, look, deg_per_pt, name)
    spot = _blind_spot(axes, eye, look, name)
    _sides(axes, eye, edge, look, name)
    return [*rings, spot]


def _rings(
    axes: Axes, eye: Eye, edge: float, look: Look, deg_per_pt: float, name: str
) -> list[Box]:
    """Rings every ten degrees, named on the nasal horizontal, where the patterns leave room."""
    boxes = []
    for radius in range(RING_STEP_DEG, int(edge) + 1, RING_STEP_DEG):
        ring = Circle((0, 0), radius, fill=False, edgecolor=RING, lw=look.line(0.8), zorder=1)
        named(ring, f"{name}-ring-{radius}")
        axes.add_patch(ring)
        x, text = -temporal_sign(eye) * radius, f"{radius}°"
        _plate(axes, x, 0.0, text, look, name, f"ring-word-{radius}")
        boxes.append(Box(x, 0.0, text_width_pt(text, 8.0) * deg_per_pt, 9.0 * deg_per_pt))
    return boxes


def _plate(
    axes: Axes, x: float, y: float, text: str, look: Look, name: str, part: str
) -> None:
    """A word on a plate in the colour of the ground."""
    word = axes.text(
        x, y, text, ha="center", va="center_baseline", fontsize=look.label, color=SOFT, zorder=2,
        bbox={"facecolor": MIST, "edgecolor": "none", "pad": look.line(1.2)},
    )  # fmt: skip
    named(word, f"{name}-{part}")


def _blind_spot(axes: Axes, eye: Eye, look: Look, name: str) -> Box:
    centre = for_eye(BLIND_SPOT_PLACE, eye)
    half_x, half_y = BLIND_SPOT_HALF_SIZE_DEG
    spot = Ellipse(
        (centre.x_deg, centre.y_deg), 2 * half_x, 2 * half_y, facecolor=CARD, edgecolor=SOFT,
        lw=look.line(0.8), ls=(0, (1, 1.6)), zorder=1.5,
    )  # fmt: skip
    named(spot, f"{name}-blind-spot")
    axes.add_patch(spot)
    for dy, word, part in ((0.95, "blind", "a"), (-0.95, "spot", "b")):
        text = axes.text(
            centre.x_deg, centre.y_deg + dy, word, ha="center", va="center_baseline",
            fontsize=look.small, color=SOFT, zorder=2,
        )  # fmt: skip
        named(text, f"{name}-blind-spot-word-{part}")
    return Box(centre.x_deg, centre.y_deg, 2 * half_x, 2 * half_y)


def _sides(axes: Axes, eye: Eye, edge: float, look: Look, name: str) -> None:
    """Which side is temporal and which nasal, in the corners the round field leaves free."""
    corner = edge + 0.6 * MARGIN_DEG
    for sign in (1, -1):
        word = "temporal" if sign == temporal_sign(eye) else "nasal"
        text = axes.text(
            sign * corner, -corner, word, ha="right" if sign > 0 else "left", va="bottom",
            fontsize=look.label, color=SOFT,
        )  # fmt: skip
        named(text, f"{name}-{word}")


def _draw_place(axes: Axes, place: PlaceResult, disc: Disc, look: Look, name: str) -> None:
    outline = draw_disc(axes, (disc.x, disc.y), disc.radius, place, look)
    named(outline, f"{name}-disc-{place.number}")
    word = axes.text(
        disc.x, disc.y, str(place.number), ha="center", va="center_baseline",
        fontsize=0.92 * look.small, color=number_colour(place), zorder=5,
    )  # fmt: skip
    named(word, f"{name}-number-{place.number}")


def number_colour(place: PlaceResult) -> tuple[float, float, float] | str:
    """Colour of the number in a disc; fixed where the disc's colour is fixed."""
    if not is_finished(place):
        return INK
    return depth_colour(0.0) if is_dark(place_colour(place)) else depth_colour(99.0)


def _draw_levels(
    axes: Axes,
    places: Sequence[PlaceResult],
    discs: Sequence[Disc],
    taken: Sequence[Box],
    look: Look,
    deg_per_pt: float,
    name: str,
) -> None:
    """Levels beside the discs of finished places."""
    told = [(p, d) for p, d in zip(places, discs, strict=True) if is_finished(p)]
    texts = [level_text(place) for place, _ in told]
    sizes = [(text_width_pt(t, 9.0) * deg_per_pt, 8.6 * deg_per_pt) for t in texts]
    boxes = place_labels([disc for _, disc in told], sizes, taken, LABEL_GAP_DEG)
    for (place, _), text, box in zip(told, texts, boxes, strict=True):
        word = axes.text(
            box.x, box.y, text, ha="center", va="center_baseline", fontsize=look.number,
            color=INK, zorder=6,
        )  # fmt: skip
        named(word, f"{name}-level-{place.number}")


def _outside(half: float) -> list[Box]:
    """Boxes beyond the picture's four edges."""
    far, size = 2 * half, 4 * half
    return [
        Box(x, y, 2 * half if x else size, 2 * half if y else size)
        for x, y in ((far, 0.0), (-far, 0.0), (0.0, far), (0.0, -far))
    ]
