"""Catch trials of an eye: every one a dot, with the 95 % Wilson interval of the share wrong."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.patches import Circle

from analysis.figures.style import (
    ALARM,
    BAND,
    CARD,
    INK,
    PICTURE_WIDTH_PT,
    RING,
    SOFT,
    Look,
    named,
)
from analysis.figures.words import rate_text
from analysis.result import Rate, Reliability

ROW_PT = 21.5
FOOT_PT = 12.0
HEIGHT_PT = 3 * ROW_PT + FOOT_PT
DOTS_LEFT_PT, DOTS_RIGHT_PT = 4.0, 96.0
SCALE_LEFT_PT, SCALE_RIGHT_PT = 112.0, 232.0
DOT_RADIUS_PT = 3.4

KINDS = (
    ("fixation", "pressed at the blind spot"),
    ("false_positive", "pressed at nothing"),
    ("false_negative", "missed full contrast"),
)


def rates(reliability: Reliability) -> tuple[tuple[str, str, Rate], ...]:
    """Key, words and rate of each kind of catch trial."""
    return tuple((key, words, getattr(reliability, key)) for key, words in KINDS)


def draw_reliability(axes: Axes, reliability: Reliability, look: Look, name: str) -> None:
    """Draw on axes spanned `PICTURE_WIDTH_PT` by `HEIGHT_PT`.

    Ids in the SVG: `name`-words-KEY, `name`-rate-KEY, `name`-KEY-dot-N,
    `name`-interval-KEY.
    """
    _axis(axes, look, name)
    for row, (key, words, rate) in enumerate(rates(reliability)):
        top = HEIGHT_PT - row * ROW_PT
        _words(axes, top - 5, key, words, rate, look, name)
        _dots(axes, top - 15.0, key, rate, look, name)
        _interval(axes, top - 15.0, rate, look, f"{name}-interval-{key}")


def _words(
    axes: Axes, y: float, key: str, words: str, rate: Rate, look: Look, name: str
) -> None:
    left = axes.text(0.5, y, words, va="center_baseline", fontsize=look.small, color=INK)
    right = axes.text(
        PICTURE_WIDTH_PT - 1, y, rate_text(rate), ha="right", va="center_baseline",
        fontsize=look.small, color=INK,
    )  # fmt: skip
    named(left, f"{name}-words-{key}")
    named(right, f"{name}-rate-{key}")


def _dots(axes: Axes, y: float, key: str, rate: Rate, look: Look, name: str) -> None:
    """Filled for a wrong answer, open for a right one; closer together where there are many."""
    room = DOTS_RIGHT_PT - DOTS_LEFT_PT
    step = min(3 * DOT_RADIUS_PT, room / max(rate.shown, 1))
    radius = min(DOT_RADIUS_PT, 0.45 * step)
    for number in range(rate.shown):
        wrong = number < rate.wrong
        dot = Circle(
            (DOTS_LEFT_PT + step * number, y), radius, facecolor=ALARM if wrong else CARD,
            edgecolor=ALARM if wrong else SOFT, lw=look.line(1.0),
        )  # fmt: skip
        named(dot, f"{name}-{key}-dot-{number}")
        axes.add_patch(dot)


def _interval(axes: Axes, y: float, rate: Rate, look: Look, gid: str) -> None:
    (whole,) = axes.plot(
        [_x(0.0), _x(1.0)], [y, y], color=BAND, lw=look.line(3.2), solid_capstyle="butt"
    )
    named(whole, f"{gid}-whole")
    if rate.rate is None:
        return
    low, high = (_x(end) for end in rate.interval)
    (line,) = axes.plot(
        [low, high], [y, y], color=INK, lw=look.line(1.1), solid_capstyle="butt"
    )
    named(line, gid)
    for end in (low, high):
        axes.plot([end, end], [y - 2.2, y + 2.2], color=INK, lw=look.line(1.1))
    at = _x(rate.rate)
    axes.plot([at, at], [y - 3.6, y + 3.6], color=ALARM, lw=look.line(2.2), solid_capstyle="butt")


def _axis(axes: Axes, look: Look, name: str) -> None:
    top = HEIGHT_PT - 10
    for share in (0.0, 0.5, 1.0):
        x = _x(share)
        axes.plot([x, x], [FOOT_PT - 1, top - 2], color=RING, lw=look.line(0.6), zorder=0)
        text = axes.text(
            x, FOOT_PT - 3, f"{100 * share:.0f} %", ha="center", va="top", fontsize=look.small,
            color=SOFT,
        )  # fmt: skip
        named(text, f"{name}-tick-{100 * share:.0f}")
    note = axes.text(
        0.5, FOOT_PT - 3, "a dot a trial, share wrong", va="top", fontsize=look.small, color=SOFT
    )
    named(note, f"{name}-note")


def _x(share: float) -> float:
    return SCALE_LEFT_PT + share * (SCALE_RIGHT_PT - SCALE_LEFT_PT)
