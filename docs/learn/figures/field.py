"""Where a degree of visual angle lies on a flat screen, and how much brain looks at it."""

from __future__ import annotations

import math

import numpy as np
from look import ALARM, FAINT, LIMIT, axes_of, drawn, labelled, note, percent, show
from matplotlib.patches import Circle, Ellipse

from protocols.field import project_cm
from protocols.library import load_protocol
from protocols.pattern import BLIND_SPOT_HALF_SIZE_DEG, BLIND_SPOT_PLACE

TITLE = "Left: the 19 places of a right eye, patches of 7 degrees. Right: distance on the glass."
COLUMNS = (
    "eccentricity, degrees", "on a screen at 40 cm, cm", "small-angle shortcut, cm",
    "shortcut's error", "cortex, mm a degree",
)  # fmt: skip
DISTANCE_CM = 40.0


def cortex_mm_per_deg(eccentricity_deg: float) -> float:
    """Linear magnification of primary visual cortex: Horton & Hoyt 1991."""
    return 17.3 / (eccentricity_deg + 0.75)


def rows():
    """One row an eccentricity."""
    for r_deg in (0, 5, 9.5, 15.5, 20, 23.5):
        cm = float(project_cm(r_deg, 0.0, DISTANCE_CM)[0])
        short = DISTANCE_CM * math.radians(r_deg)
        error = percent(short / cm - 1, 1) if r_deg else "0 %"
        yield f"{r_deg:g}", f"{cm:.2f}", f"{short:.2f}", error, f"{cortex_mm_per_deg(r_deg):.2f}"


def svg() -> str:
    """Places on the left, distances on the right."""
    return drawn("lesson-field", TITLE, "Places of a field; distance on the screen.", _draw)


def _draw(figure):
    places, curve = axes_of(figure)
    _places(places)
    r_deg = np.linspace(0, 30, 61)
    curve.plot(r_deg, DISTANCE_CM * np.tan(np.radians(r_deg)), color=LIMIT, lw=2)
    curve.plot(r_deg, DISTANCE_CM * np.radians(r_deg), color=ALARM, lw=1.2, ls=(0, (4, 2)))
    note(curve, 15.5, 15, "40 cm x tan r", LIMIT, ha="right")
    note(curve, 29.5, 9.5, "shortcut: 40 cm x r", ALARM, ha="right")
    labelled(curve, "eccentricity r, degrees", "from the mark, cm")


def _places(axes):
    for place in load_protocol("screen-19").pattern.places:
        axes.add_patch(Circle((place.x_deg, place.y_deg), 3.5, color=LIMIT, alpha=0.25, lw=0))
    width, height = (2 * half for half in BLIND_SPOT_HALF_SIZE_DEG)
    spot = (BLIND_SPOT_PLACE.x_deg, BLIND_SPOT_PLACE.y_deg)
    axes.add_patch(Ellipse(spot, width, height, fill=False, ec=ALARM, lw=1.5))
    note(axes, 13.5, -11.5, "blind spot", ALARM, ha="center")
    axes.plot(0, 0, "+", color=LIMIT, ms=8)
    axes.set(xlim=(-26, 26), ylim=(-26, 26), aspect="equal")
    axes.grid(color=FAINT, lw=0.4)
    labelled(axes, "degrees, temporal to the right", "degrees, up")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
