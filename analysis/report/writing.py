"""Wrapped text on a sheet of paper whose unit is the point."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from matplotlib.axes import Axes

from analysis.figures.labels import text_width_pt
from analysis.figures.style import INK, SOFT

SANS, SERIF = "DejaVu Sans", "DejaVu Serif"


@dataclass(frozen=True)
class Hand:
    """How a text is written: size in points, typeface, weight, colour, line height over size."""

    size_pt: float
    family: str = SANS
    weight: str = "normal"
    colour: str = INK
    leading: float = 1.25

    def width_pt(self, text: str) -> float:
        """Width of a text written so."""
        return text_width_pt(text, self.size_pt, self.family, self.weight)


def wrapped(text: str, width_pt: float, hand: Hand) -> list[str]:
    """The text in lines no wider than `width_pt`; a word that is wider itself is cut."""
    lines: list[str] = [""]
    for word in _pieces(text, width_pt, hand):
        longer = f"{lines[-1]} {word}".strip()
        if hand.width_pt(longer) <= width_pt:
            lines[-1] = longer
        else:
            lines.append(word)
    return [line for line in lines if line]


def _pieces(text: str, width_pt: float, hand: Hand) -> Iterable[str]:
    for word in text.split():
        while hand.width_pt(word) > width_pt:
            cut = next(n for n in range(len(word), 0, -1) if hand.width_pt(word[:n]) <= width_pt)
            yield word[:cut]
            word = word[cut:]
        yield word


def write(axes: Axes, x: float, y: float, width_pt: float, text: str, hand: Hand) -> float:
    """Write a paragraph whose top is at `y`; returns where it ends.

    Positions are in points (pt).
    """
    for line in wrapped(text, width_pt, hand):
        y = _line(axes, x, y, line, hand)
    return y


def write_fact(
    axes: Axes, x: float, y: float, width_pt: float, term: str, text: str, hand: Hand
) -> float:
    """Write "term: text" with the term in a softer colour; returns where it ends."""
    lead = f"{term}:"
    for number, line in enumerate(wrapped(f"{lead} {text}", width_pt, hand)):
        if number == 0 and line.startswith(lead):
            soft = Hand(hand.size_pt, hand.family, hand.weight, SOFT, hand.leading)
            _line(axes, x, y, lead, soft)
            rest = line[len(lead) :].strip()
            y = _line(axes, x + hand.width_pt(f"{lead} ") + 0.6, y, rest, hand)
        else:
            y = _line(axes, x, y, line, hand)
    return y


def _line(axes: Axes, x: float, y: float, line: str, hand: Hand) -> float:
    axes.text(
        x, y - hand.size_pt, line, fontsize=hand.size_pt, family=hand.family,
        weight=hand.weight, color=hand.colour, va="baseline",
    )  # fmt: skip
    return y - hand.leading * hand.size_pt
