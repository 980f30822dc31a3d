"""Regression to the mean: those picked for a low first visit look better at the second."""

from __future__ import annotations

from functools import cache

import numpy as np
from look import ALARM, FAINT, LIMIT, axes_of, drawn, labelled, note, show

TITLE = "Two visits of people who did not change; those below 22 dB at the first are marked."
COLUMNS = ("picked", "people", "first visit, dB", "second visit, dB", "looks like a gain of, dB")
TRUE_SD_DB, VISIT_SD_DB, MEAN_DB = 1.5, 1.5, 24.0
CUTS_DB = (24.0, 22.0, 20.0)


@cache
def visits():
    """First and second visit, (2, people): the same truth, other noise."""
    dice = np.random.default_rng(2)
    truth = dice.normal(MEAN_DB, TRUE_SD_DB, 20_000)
    return truth + dice.normal(0, VISIT_SD_DB, (2, 20_000))


def rows():
    """One row a cut."""
    first, second = visits()
    yield "all", *_line(first, second)
    for cut in CUTS_DB:
        below = first < cut
        one, two = first[below], second[below]
        yield f"below {cut:g} dB", *_line(one, two)


def _line(one, two):
    gain = round(two.mean() - one.mean(), 1) + 0.0
    return len(one), f"{one.mean():.1f}", f"{two.mean():.1f}", f"{gain:.1f}"


def svg() -> str:
    """The visits on the left, their means on the right."""
    return drawn("lesson-regression", TITLE, "Two visits; the low ones rise.", _draw)


def _draw(figure):
    cloud, means = axes_of(figure)
    first, second = visits()[:, :900]
    low = first < 22.0
    cloud.plot(first[~low], second[~low], "o", color=FAINT, ms=2.5, mew=0)
    cloud.plot(first[low], second[low], "o", color=ALARM, ms=2.5, mew=0)
    cloud.plot([17, 31], [17, 31], color=LIMIT, lw=1)
    labelled(cloud, "first visit, dB", "second visit, dB")
    one, two = visits()
    for cut, colour in zip(CUTS_DB, (FAINT, LIMIT, ALARM), strict=True):
        picked = one < cut
        heights = [one[picked].mean(), two[picked].mean()]
        means.plot([1, 2], heights, "o-", color=colour, lw=2)
        note(means, 2.06, heights[1] - 0.1, f"below {cut:g}")
    means.set(xlim=(0.8, 2.8), xticks=[1, 2])
    labelled(means, "visit", "mean of those picked, dB")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
