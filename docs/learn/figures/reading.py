"""One invented exam read as a field: every place by its distance from the limit."""

from __future__ import annotations

import tempfile
from datetime import datetime, timezone
from functools import cache
from pathlib import Path

from look import ALARM, INK, LIMIT, axes_of, drawn, labelled, note, show

from analysis.figures.ramp import depth_colour
from analysis.grade import grade_folder
from analysis.reference import load_reference
from protocols.library import bundled_observer, load_protocol
from protocols.observer import load_observer
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam

TITLE = "A right eye with an arc of loss: places in the field, and sorted with intervals."
COLUMNS = ("degrees right, up", "grade", "estimate, dB", "95 % interval, dB", "below limit, dB")
BEGAN = datetime(2030, 1, 2, 9, 0, tzinfo=timezone.utc)


@cache
def places():
    """Graded places, deepest first, of an exam on the virtual clock."""
    model = load_observer(bundled_observer("arc-loss"))
    sitting = Sitting("P-1", 60, ("right",), 7, True, "now", True, "lesson", "nobody")
    with tempfile.TemporaryDirectory() as folder:
        exam = Path(folder) / "exam"
        protocol = load_protocol("bayes-19")
        run_virtual_exam(exam, protocol, load_reference(), sitting, model, BEGAN)
        found = grade_folder(exam).eyes["right"].places
    return sorted(found, key=lambda place: -_below(place))


def _below(place) -> float:
    return place.limit_db - place.estimate_db


def rows():
    """One row a place."""
    for place in places():
        low, high = place.interval_db
        yield (
            f"{place.x_deg + 0:.1f}, {place.y_deg + 0:.1f}", place.grade,
            f"{place.estimate_db:.1f}",
            f"{low:.1f} to {high:.1f}", f"{_below(place):+.1f}",
        )  # fmt: skip


def svg() -> str:
    """The field on the left, the sorted places on the right."""
    return drawn("lesson-reading", TITLE, "A field and its places sorted by depth.", _draw)


def _draw(figure):
    field, line = axes_of(figure)
    for y, place in enumerate(reversed(places())):
        below = _below(place)
        look = {"ms": 13, "color": depth_colour(below), "mec": INK, "mew": 0.5}
        field.plot(place.x_deg, place.y_deg, "o", **look)
        low, high = (end - place.limit_db for end in place.interval_db)
        line.plot([low, high], [y, y], color=INK, lw=1)
        line.plot(-below, y, "o", ms=5, color=ALARM if below > 0 else LIMIT)
    field.plot(0, 0, "+", color=LIMIT, ms=6)
    field.set(xlim=(-25, 25), ylim=(-25, 25), aspect="equal")
    labelled(field, "degrees, temporal to the right", "degrees, up")
    line.axvline(0, color=LIMIT, lw=1)
    line.set_yticks([])
    note(line, 0.6, 16.5, "limit that 99 % reach", LIMIT)
    labelled(line, "estimate less limit, dB", "places, deepest on top")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
