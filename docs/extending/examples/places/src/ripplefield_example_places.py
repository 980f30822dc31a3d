"""An export of your own: one CSV table of places for each eye."""

from __future__ import annotations

import csv
from pathlib import Path

from analysis.export.plugged import ExportPlugIn
from analysis.report.exam import Shown

COLUMNS = ("x_deg", "y_deg", "grade", "estimate_db", "low_db", "high_db", "seen", "tries")


def write_exam(shown: Shown, stem: str, folder: Path) -> None:
    """One file an eye; dB is contrast dB, see `made-by.json` beside it."""
    for eye, found in shown.eyes:
        with open(folder / f"{stem}_{eye}.csv", "w", newline="", encoding="utf-8") as file:
            table = csv.writer(file)
            table.writerow(COLUMNS)
            for place in found.places:
                low, high = place.interval_db
                table.writerow([
                    place.x_deg, place.y_deg, place.grade, place.estimate_db, low, high,
                    place.seen, place.tries,
                ])  # fmt: skip


PLUG_IN = ExportPlugIn(write_exam)
