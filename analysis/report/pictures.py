"""The pictures of an eye as SVG, each with words for those who cannot see it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.figures import field, intervals, key, reliability, timeline
from analysis.figures.canvas import paper
from analysis.figures.session import Session
from analysis.figures.style import PICTURE_WIDTH_PT, Look
from analysis.figures.svg import inline_svg
from analysis.figures.timeline import clock_text
from analysis.figures.words import (
    GRADE_WORDS,
    NO_GRADE,
    NOT_FINISHED,
    plain_grade,
    rate_text,
)
from analysis.report.scheme import themed
from analysis.result import PlaceResult, Reliability
from protocols.field import Eye

LOOK = Look()


@dataclass(frozen=True)
class Picture:
    """A picture: its kind, a title above it, its SVG, a line below it."""

    kind: str
    title: str
    svg: str
    note: str = ""


def field_picture(name: str, eye: Eye, places: Sequence[PlaceResult]) -> Picture:
    """The round field."""
    with paper(PICTURE_WIDTH_PT, field.HEIGHT_PT, name) as (figure, axes):
        field.draw_field(axes, eye, places, LOOK, name)
        title = f"Field of the {eye} eye"
        words = f"{len(places)} places as the participant sees them: {grade_counts(places)}. "
        svg = inline_svg(figure, name, title, words + _TABLE)
    return Picture("field", title, themed(svg))


_TABLE = "The numbers are in the tables below."


def grade_counts(places: Sequence[PlaceResult]) -> str:
    """How many places have each grade, in words."""
    found = [plain_grade(place) for place in places]
    words = (*GRADE_WORDS.values(), NO_GRADE, NOT_FINISHED)
    return ", ".join(f"{found.count(word)} {word}" for word in words if word in found)


def intervals_picture(name: str, eye: Eye, places: Sequence[PlaceResult]) -> Picture:
    """All places by deviation."""
    with paper(PICTURE_WIDTH_PT, intervals.height_pt(places), name) as (figure, axes):
        intervals.draw_intervals(axes, places, LOOK, name)
        title = "Places by depth, with 95 % intervals"
        order = ", ".join(str(p.number) for p in intervals.sorted_places(places))
        words = f"Places of the {eye} eye from the deepest: {order}. {_TABLE}"
        svg = inline_svg(figure, name, title, words)
    return Picture("intervals", title, themed(svg))


def reliability_picture(name: str, eye: Eye, found: Reliability) -> Picture:
    """Catch trials."""
    with paper(PICTURE_WIDTH_PT, reliability.HEIGHT_PT, name) as (figure, axes):
        reliability.draw_reliability(axes, found, LOOK, name)
        told = "; ".join(f"{w}: {rate_text(r)}" for _, w, r in reliability.rates(found))
        svg = inline_svg(figure, name, "Catch trials", f"{eye.capitalize()} eye. {told}.")
    return Picture("reliability", "Catch trials", themed(svg))


def timeline_picture(name: str, eye: Eye, session: Session) -> Picture:
    """The session."""
    with paper(PICTURE_WIDTH_PT, timeline.HEIGHT_PT, name) as (figure, axes):
        timeline.draw_timeline(axes, session, LOOK, name)
        words = (
            f"{len(session.showings)} presentations to the {eye} eye in "
            f"{clock_text(session.seconds)} min:s, {len(session.presses)} presses, "
            f"{len(session.holds)} holds. {_TABLE}"
        )
        svg = inline_svg(figure, name, "Time line", words)
    return Picture("timeline", "Time line", themed(svg), rest_note(session))


def rest_note(session: Session) -> str:
    """What the time line cannot show to scale: the rest before it, and holds."""
    parts = []
    if session.rest_s is not None:
        parts.append(f"After a rest of {clock_text(session.rest_s)} min:s.")
    if session.holds:
        held = sum(span.to_s - span.from_s for span in session.holds)
        parts.append(f"Held {_times(len(session.holds))}, {clock_text(held)} min:s in all.")
    return " ".join(parts)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


@dataclass(frozen=True)
class KeySign:
    """A sign of the key as a small SVG, with its words."""

    name: str
    svg: str
    words: str
    width_em: float


def key_signs(name: str) -> tuple[KeySign, ...]:
    """The key's signs; the words stand beside them, so the pictures themselves are silent."""
    return tuple(_key_sign(f"{name}-{sign.name}", sign) for sign in key.SIGNS)


def _key_sign(name: str, sign: key.Sign) -> KeySign:
    with paper(sign.width_pt, key.HEIGHT_PT, name) as (figure, axes):
        sign.draw(axes, 0.5, LOOK)
        svg = inline_svg(figure, name, sign.words, sign.words)
    return KeySign(sign.name, themed(svg), sign.words, round(sign.width_pt / 11, 2))
