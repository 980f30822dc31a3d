"""The session of an eye as a time line: every presentation, every press, practice, holds, rest.

Targets stand at their contrast level, catch trials in a lane of their own kind below, presses at
the foot. Filled means seen, open not seen, a diamond a wrong catch answer, a cross does not count.
"""

from __future__ import annotations

from math import ceil

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from analysis.figures.labels import text_width_pt
from analysis.figures.session import CUT, SEEN, UNSEEN, WRONG, Press, Session, Showing, Span
from analysis.figures.style import (
    ALARM,
    BAND,
    CARD,
    FAINT,
    INK,
    MIST,
    PICTURE_WIDTH_PT,
    RING,
    SOFT,
    Look,
    named,
)

HEIGHT_PT = 110.0
LEFT_PT, RIGHT_PT = 58.0, 239.0
TARGETS_TOP_PT, TARGETS_FOOT_PT = 97.0, 67.0
TOP_LEVEL_DB = 30.0
LANES = {"blind_spot": 57.5, "blank": 47.5, "full_contrast": 37.5}
LANE_WORDS = {"blind_spot": "blind spot", "blank": "blank", "full_contrast": "full contrast"}
PRESSES_PT = 26.5
AXIS_PT = 18.0
TICK_STEPS_S = (5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)
MOST_TICKS = 6
WORD_GAP_PT = 4.0

_MARKS = {
    SEEN: ("o", INK, INK),
    UNSEEN: ("o", CARD, INK),
    WRONG: ("D", ALARM, ALARM),
    CUT: ("x", SOFT, SOFT),
}


def draw_timeline(axes: Axes, session: Session, look: Look, name: str) -> None:
    """Draw on axes spanned `PICTURE_WIDTH_PT` by `HEIGHT_PT`.

    Ids in the SVG: `name`-shown-INDEX-N, `name`-presses, `name`-practice, `name`-hold-N.
    """
    _lanes(axes, look, name)
    _spans(axes, session, look, name)
    _axis(axes, session, look, name)
    for number, showing in enumerate(session.showings):
        _showing(axes, session, showing, look, f"{name}-shown-{showing.index}-{number}")
    for press in session.presses:
        _press(axes, session, press, look)


def clock_text(seconds: float) -> str:
    """Minutes and seconds.

    >>> clock_text(75.2)
    '1:15'
    """
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _x(session: Session, at_s: float) -> float:
    share = at_s / max(session.seconds, 1.0)
    return LEFT_PT + min(max(share, 0.0), 1.0) * (RIGHT_PT - LEFT_PT)


def _level_y(level_db: float) -> float:
    share = min(max(level_db / TOP_LEVEL_DB, 0.0), 1.0)
    return TARGETS_FOOT_PT + share * (TARGETS_TOP_PT - TARGETS_FOOT_PT)


def _lanes(axes: Axes, look: Look, name: str) -> None:
    for level in (0, 10, 20, 30):
        y = _level_y(level)
        axes.plot([LEFT_PT, RIGHT_PT], [y, y], color=RING, lw=look.line(0.5), zorder=0.5)
        word = f"{level} dB"
        _word(axes, LEFT_PT - 4, y, word, "right", look, f"{name}-level-{level}")
    lanes = [*((LANES[role], LANE_WORDS[role]) for role in LANES), (PRESSES_PT, "presses")]
    for y, words in lanes:
        axes.plot([LEFT_PT, RIGHT_PT], [y, y], color=FAINT, lw=look.line(0.5), zorder=0.5)
        _word(axes, LEFT_PT - 4, y, words, "right", look, f"{name}-lane-{words.split()[0]}")


def _word(
    axes: Axes, x: float, y: float, words: str, side: str, look: Look, gid: str
) -> None:
    text = axes.text(
        x, y, words, ha=side, va="center_baseline", fontsize=look.small, color=SOFT
    )
    named(text, gid)


def _spans(axes: Axes, session: Session, look: Look, name: str) -> None:
    """Practice and holds in order; a word that would run into the one before it moves right."""
    spans = [] if session.practice is None else [(session.practice, "practice", "practice", "")]
    spans += [(hold, "held", f"hold-{n}", "////") for n, hold in enumerate(session.holds)]
    free_from = LEFT_PT
    for span, words, gid, hatch in sorted(spans, key=lambda one: one[0].from_s):
        _stretch(axes, session, span, f"{name}-{gid}", hatch)
        free_from = _span_word(axes, session, span, words, look, f"{name}-{gid}-word", free_from)


def _stretch(axes: Axes, session: Session, span: Span, gid: str, hatch: str) -> None:
    left, right = _x(session, span.from_s), _x(session, span.to_s)
    foot, top = AXIS_PT, TARGETS_TOP_PT + 3
    stretch = Rectangle(
        (left, foot), max(right - left, 1.0), top - foot, facecolor=MIST if hatch else BAND,
        edgecolor=SOFT if hatch else "none", hatch=hatch, lw=0.0, zorder=0,
    )  # fmt: skip
    named(stretch, gid)
    axes.add_patch(stretch)


def _span_word(
    axes: Axes, session: Session, span: Span, words: str, look: Look, gid: str, free_from: float
) -> float:
    """Write the word above its span, where there is room; returns where the next may begin."""
    half = text_width_pt(words, 7.2) / 2
    above = (_x(session, span.from_s) + _x(session, span.to_s)) / 2
    middle = max(min(above, PICTURE_WIDTH_PT - half), free_from + half)
    if middle + half > PICTURE_WIDTH_PT:
        return free_from
    text = axes.text(
        middle, HEIGHT_PT - 2, words, ha="center", va="top", fontsize=look.small, color=SOFT
    )
    named(text, gid)
    return middle + half + WORD_GAP_PT


def _axis(axes: Axes, session: Session, look: Look, name: str) -> None:
    axes.plot([LEFT_PT, RIGHT_PT], [AXIS_PT, AXIS_PT], color=SOFT, lw=look.line(0.7))
    step = next(
        (s for s in TICK_STEPS_S if session.seconds / s <= MOST_TICKS), TICK_STEPS_S[-1]
    )
    for tick in range(0, ceil(session.seconds), step):
        x = _x(session, tick)
        axes.plot([x, x], [AXIS_PT, AXIS_PT - 2.5], color=SOFT, lw=look.line(0.7))
        text = axes.text(
            x, AXIS_PT - 4, clock_text(tick), ha="center", va="top", fontsize=look.small,
            color=SOFT,
        )  # fmt: skip
        named(text, f"{name}-tick-{tick}")
    _word(axes, LEFT_PT - 14, AXIS_PT - 8, "min:s", "right", look, f"{name}-unit")


def _showing(axes: Axes, session: Session, showing: Showing, look: Look, gid: str) -> None:
    shape, face, edge = _MARKS[showing.outcome]
    size = look.line(4.2 if shape == "D" else 3.9)
    x, y = _x(session, showing.at_s), _lane_y(showing)
    (mark,) = axes.plot(
        [x], [y], marker=shape, ms=size, mfc=face, mec=edge, mew=look.line(0.9), ls="none",
        zorder=4,
    )  # fmt: skip
    named(mark, gid)


def _lane_y(showing: Showing) -> float:
    if showing.lane in LANES:
        return LANES[showing.lane]
    return _level_y(showing.level_db or 0.0)


def _press(axes: Axes, session: Session, press: Press, look: Look) -> None:
    """A long stroke for a press that decided an answer, a short red one for any other."""
    x, half = _x(session, press.at_s), 4.0 if press.counted else 2.4
    axes.plot(
        [x, x], [PRESSES_PT - half, PRESSES_PT + half], color=INK if press.counted else ALARM,
        lw=look.line(0.9 if press.counted else 1.6), solid_capstyle="butt", zorder=4,
    )  # fmt: skip
