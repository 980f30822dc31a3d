"""The seeing curve: chance of a press against level, for a steady and a wavering observer."""

from __future__ import annotations

import numpy as np
from look import ALARM, FAINT, LIMIT, axes_of, drawn, labelled, note, percent, show

from protocols.procedures.psychometric import seeing_probability

TITLE = "The same sensitivity of 20 dB: steady (spread 1 dB), wavering (4 dB), and with slips."
COLUMNS = ("level, dB", "spread 1 dB", "spread 4 dB", "spread 2 dB, 5 % false presses, 10 % lapses")
SENSITIVITY_DB = 20.0
OBSERVERS = ((1.0, 0.0, 0.0), (4.0, 0.0, 0.0), (2.0, 0.05, 0.10))


def chances(level_db):
    """Chance of a press of each observer at a level."""
    return [seeing_probability(level_db, SENSITIVITY_DB, *observer) for observer in OBSERVERS]


def rows():
    """One row a level."""
    for level in (10, 14, 16, 18, 19, 20, 21, 22, 24, 26, 30):
        yield level, *(percent(float(p), 1) for p in chances(level))


def svg() -> str:
    """The curves alone on the left; fifty answers of the wavering one on the right."""
    return drawn("lesson-seeing", TITLE, "Chance of a press falls with the level in dB.", _draw)


def _draw(figure):
    curves, answers = axes_of(figure)
    level_db = np.linspace(8, 32, 241)
    colours = (LIMIT, ALARM, FAINT)
    for p, colour in zip(chances(level_db), colours, strict=True):
        curves.plot(level_db, p, color=colour, lw=2)
    curves.axhline(0.5, color=FAINT, lw=0.8)
    note(curves, 15.2, 1.02, "steady", LIMIT, ha="center")
    note(curves, 25.5, 0.16, "wavering", ALARM)
    note(curves, 9, 0.78, "with slips")
    labelled(curves, "level, dB (fainter to the right)", "chance of a press")
    dice = np.random.default_rng(4)
    shown = np.arange(10, 31, 2.0)
    seen = dice.random((12, len(shown))) < seeing_probability(shown, 20.0, 4.0, 0.0, 0.0)
    answers.plot(level_db, chances(level_db)[1], color=ALARM, lw=1)
    answers.plot(shown, seen.mean(axis=0), "o", color=LIMIT, ms=5)
    labelled(answers, "level, dB", "share seen of 12")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
