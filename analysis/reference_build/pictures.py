"""The fit by place and age, the limits over the field, and who lies below when left out."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from analysis.figures.style import ALARM, BAND, INK, LIMIT, RING, SOFT
from analysis.plain_page.page import Picture, labelled, picture
from analysis.reference import LIMIT_SHARE
from analysis.reference_build.build import Built
from protocols.field import Floats

PLACE_IN = (2.3, 1.75)
WIDE_IN = (4.8, 3.0)


def place_pictures(built: Built) -> tuple[Picture, ...]:
    """One picture a place: every level over age with the median and the limits."""
    return tuple(_place_picture(built, number) for number in range(len(built.sample.places)))


def _place_picture(built: Built, number: int) -> Picture:
    assert built.file.measured is not None
    one = built.file.measured.places[number]
    words = (
        f"Levels of {one.people} people over age at ({one.x_deg:.1f}, {one.y_deg:.1f}) degrees, "
        f"with the median, the 5 % and the 1 % limit. The numbers are in the table."
    )
    title = f"Place {number}: {one.x_deg + 0:.1f}°, {one.y_deg + 0:.1f}°"

    def draw(axes: Axes) -> None:
        _levels(axes, built, number)
        _lines(axes, built, number)
        axes.set_ylim(*_span_db(built))

    return picture(f"place-{number}", title, words, PLACE_IN, draw, small=True)


def _levels(axes: Axes, built: Built, number: int) -> None:
    """Right eyes as dots, left eyes as rings; below the limit when left out: crosses."""
    age, level = built.sample.age_years, built.sample.level_db
    below = built.below[0, :, :, number]
    for side, face in ((0, SOFT), (1, "none")):
        fine = ~below[:, side]
        axes.plot(
            age[fine], level[fine, side, number], "o", ms=1.7, mew=0.4, mec=SOFT, mfc=face, ls="",
        )  # fmt: skip
        axes.plot(
            age[~fine], level[~fine, side, number], "x", ms=4, mew=1.1, color=ALARM, ls=""
        )


def _lines(axes: Axes, built: Built, number: int) -> None:
    ages = _ages(built)
    away = built.sample.eccentricity_deg
    for share, look in ((0.5, "-"), (0.05, ":"), (LIMIT_SHARE, "--")):
        levels = built.fit.levels_db(ages, away, share)[:, number]
        axes.plot(ages, levels, look, color=LIMIT, lw=1.5 if share != 0.05 else 1.1)


def _ages(built: Built) -> Floats:
    return np.array([built.file.from_age_years, built.file.to_age_years], float)


def _span_db(built: Built) -> tuple[float, float]:
    """The same scale at all places."""
    low, high = np.nanmin(built.sample.level_db), np.nanmax(built.sample.level_db)
    return float(low) - 1, float(high) + 1


def profile_picture(built: Built) -> Picture:
    """Median and limits over eccentricity at the middle age."""
    away, fit = built.sample.eccentricity_deg, built.fit
    middle = np.array([fit.middle_age_years])

    def draw(axes: Axes) -> None:
        for share, mark, words in ((0.5, "o", "median"), (0.05, "s", "5 % limit"),
                                   (LIMIT_SHARE, "v", "1 % limit")):  # fmt: skip
            levels = fit.levels_db(middle, away, share)[0]
            axes.plot(
                away, levels, mark, ms=5, mec=LIMIT if share != 0.5 else INK,
                mfc=BAND if share != 0.5 else "none", label=words, ls="",
            )  # fmt: skip
        labelled(axes, "eccentricity, degrees", "level, dB")
        axes.legend(fontsize=7.5, frameon=False, labelcolor=INK)

    words = "Median, 5 % and 1 % limits of all places by eccentricity."
    title = f"All places at {fit.middle_age_years:g} years"
    return picture("profile", title, words, WIDE_IN, draw, "One mark a place and level.")


def left_out_picture(built: Built) -> Picture:
    """Share below the 1 % limit at each place when each person is left out of the fit."""
    assert built.file.measured is not None
    places = built.file.measured.places
    stated = built.file.measured.tolerances[0]
    shares = [100 * one.left_out_below for one in places]

    def draw(axes: Axes) -> None:
        low, high = (100 * end for end in stated.interval)
        axes.axhspan(low, high, color=BAND, lw=0)
        axes.axhline(100 * LIMIT_SHARE, color=LIMIT, lw=1.2, ls="--")
        axes.vlines(range(len(shares)), 0, shares, color=RING, lw=2)
        axes.plot(range(len(shares)), shares, "o", ms=4, color=INK, ls="")
        axes.set_ylim(0, 1.1 * max([*shares, high]))
        axes.set_xticks(range(len(shares)))
        labelled(axes, "place", "below the 1 % limit, %")

    words = "Share of left-out people below the 1 % limit at each place; the table has the numbers."
    note = "Band: what is stated for all places together. A single place scatters more."
    return picture("left-out", "Left out of the fit in turn", words, WIDE_IN, draw, note)
