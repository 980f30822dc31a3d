"""Pictures of a comparison: pairs, means over visits, trends of places, agreement."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from analysis.agreement import Agreement
from analysis.change import Change
from analysis.compare import EyeVisits
from analysis.figures.style import ALARM, BAND, INK, LIMIT, RING, SOFT
from analysis.plain_page.page import Picture, labelled, picture
from analysis.symmetry import Asymmetry

WIDE_IN = (4.8, 3.3)
_TABLE = "The numbers are in the tables below."


def pairs_picture(found: Asymmetry) -> Picture:
    """Pairs from the largest difference, each with its interval."""
    pairs = sorted(found.pairs, key=lambda pair: pair.difference_db)

    def draw(axes: Axes) -> None:
        low, high = found.interval_db
        axes.axhspan(low, high, color=BAND, lw=0)
        _whiskers(
            axes,
            [pair.difference_db for pair in pairs],
            [pair.interval_db for pair in pairs],
            [pair.stands_out for pair in pairs],
            [str(pair.number) for pair in pairs],
        )
        labelled(axes, "pair", "left less right, dB")

    words = f"Left less right of {len(pairs)} mirrored pairs with 95 % intervals. {_TABLE}"
    note = "Band: 95 % interval of the mean. A diamond stands out from the others."
    return picture("pairs", "The two eyes, pair by pair", words, WIDE_IN, draw, note)


def means_picture(eye: EyeVisits) -> Picture:
    """Mean level at each visit."""

    def draw(axes: Axes) -> None:
        axes.plot(eye.years, eye.mean_db, "-o", color=INK, lw=1.2, ms=4.5)
        middle = float(np.mean(eye.mean_db))
        reach = max(3.0, 1.3 * float(np.ptp(eye.mean_db)))
        axes.set_ylim(middle - reach, middle + reach)
        labelled(axes, "years after the first visit", "mean level, dB")

    title = f"{eye.eye.capitalize()} eye over visits"
    words = f"Mean level of the {eye.eye} eye at {len(eye.years)} visits. {_TABLE}"
    note = f"Mean of the {len(eye.numbers)} places finished at every visit."
    return picture(f"means-{eye.eye}", title, words, WIDE_IN, draw, note)


def trends_picture(eye: EyeVisits, change: Change) -> Picture:
    """Trend of each place with its interval."""
    trends = sorted(change.trends, key=lambda one: one.db_per_year)

    def draw(axes: Axes) -> None:
        _whiskers(
            axes,
            [one.db_per_year for one in trends],
            [one.interval_db_per_year for one in trends],
            [one.p < 0.05 for one in trends],
            [str(one.number) for one in trends],
        )
        labelled(axes, "place", "trend, dB a year")

    title = f"{eye.eye.capitalize()} eye, trends of places"
    words = f"Trends of {len(trends)} places with 95 % intervals. {_TABLE}"
    note = "Each place by itself; a diamond has p below 0.05. Judge the field by the whole."
    return picture(f"trends-{eye.eye}", title, words, WIDE_IN, draw, note)


def agreement_picture(eye: EyeVisits, found: Agreement) -> Picture:
    """Difference of the first two visits over their mean, with limits of agreement."""
    first, second = np.array(eye.pairs_db).T

    def draw(axes: Axes) -> None:
        for value, interval, look in (
            (found.mean, found.mean_interval, "-"),
            (found.low, found.low_interval, "--"),
            (found.high, found.high_interval, "--"),
        ):
            axes.axhspan(*interval, color=BAND, lw=0)
            axes.axhline(value, color=LIMIT, lw=1.3, ls=look)
        axes.plot((first + second) / 2, second - first, "o", ms=4, mfc="none", mec=INK, ls="")
        labelled(axes, "mean of both visits, dB", "second less first, dB")

    title = f"{eye.eye.capitalize()} eye, first two visits"
    words = f"Second less first visit over their mean for {found.pairs} places. {_TABLE}"
    note = "Solid: mean; dashed: limits of agreement; bands: their 95 % intervals."
    return picture(f"agreement-{eye.eye}", title, words, WIDE_IN, draw, note)


def _whiskers(
    axes: Axes,
    values: Sequence[float],
    intervals: Sequence[tuple[float, float]],
    marked: Sequence[bool],
    names: Sequence[str],
) -> None:
    axes.axhline(0, color=RING, lw=1)
    for k, (value, (low, high), mark) in enumerate(zip(values, intervals, marked, strict=True)):
        colour = ALARM if mark else SOFT
        axes.plot([k, k], [low, high], color=colour, lw=1.4)
        axes.plot(k, value, "D" if mark else "o", ms=5 if mark else 4, color=colour)
    axes.set_xticks(range(len(names)), names)
