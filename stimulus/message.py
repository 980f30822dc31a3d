"""Words on the window: instructions in the middle, the research-only line small at the bottom."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from protocols import RESEARCH_ONLY

INK = (-0.86, -0.84, -0.78)
FAINT_INK = (-0.55, -0.53, -0.48)
FONT = "DejaVu Sans"  # where it is missing, the system's own sans-serif stands in


def draw_message(
    window: Any,
    lines: Sequence[str],
    small_print: str = RESEARCH_ONLY,
    right_to_left: bool = False,
) -> None:
    """Draw lines of text on a PsychoPy window: the first one larger, as a heading."""
    height_px = float(window.size[1])
    step = height_px / 15
    top = step * (len(lines) - 1) / 2 + step / 4
    for number, line in enumerate(lines):
        size = height_px / (21 if number == 0 else 28)
        drop = step * number + (step / 2 if number else 0)
        draw_text(window, line, size, (0.0, top - drop), INK, right_to_left)
    bottom = (0.0, -height_px / 2 + height_px / 22)
    draw_text(window, small_print, height_px / 48, bottom, FAINT_INK, right_to_left)


def draw_caption(window: Any, lines: Sequence[str]) -> None:
    """Draw small lines of text at the bottom, the last above the research-only line."""
    height_px = float(window.size[1])
    step = height_px / 28
    bottom = -height_px / 2 + height_px / 11
    for number, line in enumerate(reversed(lines)):
        draw_text(window, line, height_px / 36, (0.0, bottom + step * number), INK)
    at_bottom = (0.0, -height_px / 2 + height_px / 22)
    draw_text(window, RESEARCH_ONLY, height_px / 48, at_bottom, FAINT_INK)


def draw_text(
    window: Any,
    text: str,
    size_px: float,
    at_px: tuple[float, float],
    ink: tuple[float, float, float],
    right_to_left: bool = False,
) -> None:
    """Draw one line centred on a point, pixels from the window's middle.

    Scripts that run from right to left are put in order, and Arabic letters are joined.
    """
    from psychopy import visual

    visual.TextStim(
        window,
        text=text,
        font=FONT,
        units="pix",
        height=size_px,
        pos=at_px,
        color=ink,
        colorSpace="rgb",
        wrapWidth=0.92 * float(window.size[0]),
        languageStyle="Arabic" if right_to_left else "LTR",
        autoLog=False,
    ).draw()
