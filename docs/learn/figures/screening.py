"""A screening and a threshold exam of the same invented people: what each costs and tells."""

from __future__ import annotations

import io
import tempfile
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from look import ALARM, LIMIT, axes_of, drawn, labelled, note, show

from protocols.library import load_protocol
from protocols.population.draw import draw_population
from stimulus.cli import run

TITLE = "Sixty invented people, one eye each: what an exam costs, and what it says of each place."
COLUMNS = ("protocol", "presentations, median", "seconds, median", "seconds, 95th", "error, dB RMS")
PROTOCOLS = {"screen-19": ALARM, "bayes-19": LIMIT}
PEOPLE, SEED = 60, 11


def write_observers(path: Path) -> None:
    """A table of observers as `ripplefield simulate` reads it: one row a place."""
    places = load_protocol("screen-19").pattern.places
    people = draw_population(PEOPLE, SEED, load_protocol("screen-19").pattern)
    rows = [
        (f"S-{n:02d}", int(people.age_years[n]), "right", p.x_deg, p.y_deg, level_db)
        for n in range(PEOPLE)
        for p, level_db in zip(places, people.sensitivity_db[n], strict=True)
    ]
    columns = ["observer", "age_years", "eye", "x_deg", "y_deg", "sensitivity_db"]
    pd.DataFrame(rows, columns=columns).to_csv(path, index=False)


@cache
def results() -> dict[str, pd.DataFrame]:
    """`ripplefield simulate PROTOCOL --observers observers.csv --out results.csv --seed 1`."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        observers = Path(folder) / "observers.csv"
        write_observers(observers)
        for name in PROTOCOLS:
            out = Path(folder) / f"{name}.csv"
            words = ["simulate", name, "--observers", str(observers), "--out", str(out)]
            with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
                assert run([*words, "--seed", "1", "--workers", "1"]) == 0
            found[name] = pd.read_csv(out)
    return found


def rows():
    """One row a protocol."""
    for name, found in results().items():
        exams = found.groupby("observer")[["exam_presentations", "exam_seconds"]].first()
        error = found.estimate_db - found.truth_db.clip(lower=0)
        yield (
            name,
            f"{exams.exam_presentations.median():.0f}",
            f"{exams.exam_seconds.median():.0f}",
            f"{exams.exam_seconds.quantile(0.95):.0f}",
            f"{np.sqrt((error**2).mean()):.1f}",
        )


def svg() -> str:
    """Seconds on the left, estimates against truth on the right."""
    return drawn("lesson-screening", TITLE, "Seconds of exams; estimates against truth.", _draw)


def _draw(figure):
    cost, told = axes_of(figure)
    for name, colour in PROTOCOLS.items():
        found = results()[name]
        seconds = np.sort(found.groupby("observer").exam_seconds.first())
        cost.plot(seconds, np.arange(1, PEOPLE + 1) / PEOPLE, color=colour, lw=2)
        note(cost, seconds[PEOPLE // 2] + 5, 0.42, name, colour)
        told.plot(found.truth_db, found.estimate_db, "o", color=colour, ms=2.2, alpha=0.5, mew=0)
    told.plot([0, 32], [0, 32], color=LIMIT, lw=0.8)
    labelled(cost, "seconds for one eye", "share of people done")
    labelled(told, "true sensitivity, dB", "what the exam says, dB")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
