"""The printed sheet: one A4 page an exam, drawn without a browser. The same exams, the same bytes.

The same pictures, sentences, numbers and facts as the page; the intervals are the table of places.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from analysis.figures import field, intervals, key, reliability, timeline
from analysis.figures.canvas import paper, window
from analysis.figures.session import session_of
from analysis.figures.style import ALARM, LIMIT, PICTURE_WIDTH_PT, SOFT, Look, drawing
from analysis.report import facts
from analysis.report.exam import Shown
from analysis.report.pictures import rest_note
from analysis.report.writing import SERIF, Hand, write, write_fact
from analysis.result import EyeResult
from protocols import RESEARCH_ONLY, __version__
from protocols.field import Eye

WIDTH_PT, HEIGHT_PT = 595.28, 841.89
MARGIN_PT = 24.0
INSIDE_PT = WIDTH_PT - 2 * MARGIN_PT
GAP_PT = 8.0
FOOT_PT = MARGIN_PT + 14.0
LINE_PT = 14.0
TALLEST_INTERVALS_PT = 250.0

TITLE = Hand(14.0, SERIF, "bold")
SENTENCE = Hand(9.2, SERIF)
NEXT = Hand(7.4, weight="bold")
HEAD = Hand(7.2, weight="bold")
BODY = Hand(7.4)
SMALL = Hand(6.8, colour=SOFT)
FACT = Hand(6.0, leading=1.2)
WARNING = Hand(7.2, weight="bold", colour=ALARM)
RESEARCH = Hand(8.0, weight="bold")


@dataclass(frozen=True)
class Sheet:
    """A sheet under way: its figure and the axes for text, spanned in points."""

    figure: Figure
    axes: Axes

    def picture(self, x: float, top: float, width: float, height: float) -> Axes:
        """Axes for a picture of this natural height (scale 1), drawn `width` points wide."""
        scale = width / PICTURE_WIDTH_PT
        bottom = top - height * scale
        box = (x / WIDTH_PT, bottom / HEIGHT_PT, width / WIDTH_PT, height * scale / HEIGHT_PT)
        return window(self.figure, box, PICTURE_WIDTH_PT, height)

    def rule(self, x: float, y: float, width: float, colour: str = LIMIT) -> None:
        """A line across."""
        self.axes.plot([x, x + width], [y, y], color=colour, lw=1.0)


def sheets_pdf(exams: Sequence[Shown]) -> bytes:
    """A PDF with one A4 sheet an exam."""
    stream = io.BytesIO()
    about = {
        "CreationDate": None,
        "Creator": f"Ripplefield {__version__}",
        "Producer": None,
        "Title": ", ".join(shown.result.exam.participant for shown in exams),
        "Subject": RESEARCH_ONLY,
    }
    with drawing("sheets"), PdfPages(stream, metadata=about) as pages:
        for number, shown in enumerate(exams, start=1):
            with paper(WIDTH_PT, HEIGHT_PT, f"sheet-{number}") as (figure, axes):
                _exam(Sheet(figure, axes), shown)
                pages.savefig(figure)
    return stream.getvalue()


def _exam(sheet: Sheet, shown: Shown) -> None:
    y = _header(sheet, shown)
    tested = [eye for eye, _ in shown.eyes if session_of(shown.record, eye) is not None]
    if len(tested) > 1:
        _both(sheet, shown, y)
    else:
        _single(sheet, shown, y)
    write(sheet.axes, MARGIN_PT, MARGIN_PT + 9, INSIDE_PT, RESEARCH_ONLY, RESEARCH)


def _header(sheet: Sheet, shown: Shown) -> float:
    axes, y = sheet.axes, HEIGHT_PT - MARGIN_PT
    title = f"Ripplefield exam {shown.result.exam.participant}"
    y = write(axes, MARGIN_PT, y, INSIDE_PT, title, TITLE)
    line = "  ·  ".join(f"{fact.term} {fact.text}" for fact in facts.head_facts(shown))
    y = write(axes, MARGIN_PT, y, INSIDE_PT, line, BODY) - 1
    warning = "  ".join(facts.warnings(shown.result))
    return write(axes, MARGIN_PT, y, INSIDE_PT, warning, WARNING) - 3


def _said(sheet: Sheet, x: float, y: float, width: float, found: EyeResult) -> float:
    sheet.rule(x, y, width)
    y = write(sheet.axes, x, y - 3, width, found.sentence, SENTENCE)
    y = write(sheet.axes, x, y - 1, width, found.next_step, NEXT)
    return write(sheet.axes, x, y - 1, width, facts.eye_facts(found), SMALL)


def _both(sheet: Sheet, shown: Shown, top: float) -> None:
    half = (INSIDE_PT - GAP_PT) / 2
    wide = 204.0
    lefts = (MARGIN_PT, MARGIN_PT + half + GAP_PT)
    y = top
    for x, (_, found) in zip(lefts, shown.eyes, strict=True):
        y = min(y, _said(sheet, x, top, half, found))
    y -= 7
    for x, (eye, found) in zip((MARGIN_PT, WIDTH_PT - MARGIN_PT - wide), shown.eyes, strict=True):
        _column(sheet, shown, eye, found, x, y, wide)
    middle = MARGIN_PT + wide + GAP_PT
    _aside(sheet, shown, middle, y, INSIDE_PT - 2 * wide - 2 * GAP_PT)


def _column(
    sheet: Sheet, shown: Shown, eye: Eye, found: EyeResult, x: float, y: float, width: float
) -> None:
    """All pictures of an eye, one below the other."""
    for draw in (_field, _intervals, _reliability, _timeline):
        y = draw(sheet, shown, eye, found, x, y, width) - 5


def _single(sheet: Sheet, shown: Shown, top: float) -> None:
    y = top
    for eye, found in shown.eyes:
        y = _said(sheet, MARGIN_PT, y, INSIDE_PT, found) - 7
        if session_of(shown.record, eye) is not None:
            y = _pictures(sheet, shown, eye, found, y)
    sheet.rule(MARGIN_PT, y, INSIDE_PT, SOFT)
    third = (INSIDE_PT - 2 * GAP_PT) / 3
    _key(sheet, MARGIN_PT, y - 4, third)
    groups = facts.groups(shown)
    _groups(sheet, groups[:2], MARGIN_PT + third + GAP_PT, y - 4, third)
    _groups(sheet, groups[2:], MARGIN_PT + 2 * (third + GAP_PT), y - 4, third)


def _pictures(sheet: Sheet, shown: Shown, eye: Eye, found: EyeResult, y: float) -> float:
    """The pictures of an eye in two columns."""
    wide = 250.0
    right = WIDTH_PT - MARGIN_PT - wide
    y1 = _field(sheet, shown, eye, found, MARGIN_PT, y, wide)
    y2 = _intervals(sheet, shown, eye, found, right, y, wide)
    y = min(y1, y2) - 8
    y1 = _reliability(sheet, shown, eye, found, MARGIN_PT, y, wide)
    y2 = _timeline(sheet, shown, eye, found, right, y, wide)
    return min(y1, y2) - 8


def _titled(sheet: Sheet, x: float, y: float, width: float, title: str) -> float:
    return write(sheet.axes, x, y, width, title, HEAD) - 1


def _field(
    sheet: Sheet, shown: Shown, eye: Eye, found: EyeResult, x: float, y: float, width: float
) -> float:
    y = _titled(sheet, x, y, width, f"Field of the {eye} eye")
    size = 0.9 * width
    axes = sheet.picture(x + (width - size) / 2, y, size, field.HEIGHT_PT)
    field.draw_field(axes, eye, found.places, Look(size / PICTURE_WIDTH_PT), f"{eye}-field")
    return y - size


def _intervals(
    sheet: Sheet, shown: Shown, eye: Eye, found: EyeResult, x: float, y: float, width: float
) -> float:
    y = _titled(sheet, x, y, width, "Places by depth, with 95 % intervals")
    height = intervals.height_pt(found.places)
    tallest = min(TALLEST_INTERVALS_PT, y - FOOT_PT - _below_intervals_pt(width))
    size = min(width, tallest / height * PICTURE_WIDTH_PT)
    axes = sheet.picture(x + (width - size) / 2, y, size, height)
    intervals.draw_intervals(
        axes, found.places, Look(size / PICTURE_WIDTH_PT), f"{eye}-intervals"
    )
    return y - height * size / PICTURE_WIDTH_PT


def _below_intervals_pt(width: float) -> float:
    """Room that catch trials and time line need, with their titles, gaps and note."""
    pictures = reliability.HEIGHT_PT + timeline.HEIGHT_PT
    return pictures * width / PICTURE_WIDTH_PT + 4 * LINE_PT


def _reliability(
    sheet: Sheet, shown: Shown, eye: Eye, found: EyeResult, x: float, y: float, width: float
) -> float:
    y = _titled(sheet, x, y, width, "Catch trials")
    axes = sheet.picture(x, y, width, reliability.HEIGHT_PT)
    scale = width / PICTURE_WIDTH_PT
    reliability.draw_reliability(axes, found.reliability, Look(scale), f"{eye}-catch")
    return y - reliability.HEIGHT_PT * scale


def _timeline(
    sheet: Sheet, shown: Shown, eye: Eye, found: EyeResult, x: float, y: float, width: float
) -> float:
    session = session_of(shown.record, eye)
    if session is None:
        return y
    y = _titled(sheet, x, y, width, "Time line")
    axes = sheet.picture(x, y, width, timeline.HEIGHT_PT)
    scale = width / PICTURE_WIDTH_PT
    timeline.draw_timeline(axes, session, Look(scale), f"{eye}-timeline")
    return write(
        sheet.axes, x, y - timeline.HEIGHT_PT * scale - 1, width, rest_note(session), SMALL
    )


def _aside(sheet: Sheet, shown: Shown, x: float, y: float, width: float) -> None:
    y = _key(sheet, x, y, width) - 5
    sheet.rule(x, y, width, SOFT)
    _groups(sheet, facts.groups(shown), x, y - 4, width)


def _key(sheet: Sheet, x: float, y: float, width: float) -> float:
    y = write(sheet.axes, x, y, width, "How to read the pictures", HEAD) - 2
    for sign in key.SIGNS:
        scale = 0.6
        box = (
            x / WIDTH_PT,
            (y - key.HEIGHT_PT * scale) / HEIGHT_PT,
            sign.width_pt * scale / WIDTH_PT,
            key.HEIGHT_PT * scale / HEIGHT_PT,
        )
        axes = window(sheet.figure, box, sign.width_pt, key.HEIGHT_PT)
        sign.draw(axes, 0.5, Look(scale))
        left = sign.width_pt * scale + 5
        end = write(sheet.axes, x + left, y - 1, width - left, sign.words, FACT)
        y = min(end, y - key.HEIGHT_PT * scale) - 2.5
    return write(sheet.axes, x, y, width, key.NOTES, FACT)


def _groups(
    sheet: Sheet, groups: Sequence[facts.Group], x: float, y: float, width: float
) -> float:
    for group in groups:
        y = write(sheet.axes, x, y, width, group.title, HEAD)
        for fact in group.facts:
            y = write_fact(sheet.axes, x, y, width, fact.term, fact.text, FACT)
        y -= 3
    return y
