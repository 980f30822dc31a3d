"""What practice tells the participant: a line round the fixation mark, and a word below it.

The line is a clock of the answer: closed for a press in time, its first quarter for one too early,
open at the end for one too late, in pieces for none. The mark itself is left as it is. All of it is
shown in the quiet time only, and gone before the next target.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from calibration.geometry import Screen
from protocols.answers import Verdict
from stimulus.message import INK, draw_text

RADIUS_DEG, WORDS_BELOW_DEG, WORDS_HEIGHT_DEG = 0.95, 1.9, 0.75
LINE_PX = 3.0
STEPS_A_TURN = 72
ARCS: dict[Verdict, tuple[tuple[float, float], ...]] = {
    "seen": ((0.0, 1.0),),
    "anticipation": ((0.0, 0.25),),
    "late": ((0.0, 0.8),),
    "not_seen": ((0.05, 0.2), (0.3, 0.45), (0.55, 0.7), (0.8, 0.95)),
}
"""Parts of a turn, clockwise from the top."""


@dataclass(frozen=True)
class Feedback:
    """What to tell about one answer, in the participant's language."""

    verdict: Verdict
    words: str
    right_to_left: bool = False


def draw_feedback(window: Any, screen: Screen, said: Feedback) -> None:
    """Draw the line and the words on a PsychoPy window; the mark goes on top of it."""
    for start, end in ARCS[said.verdict]:
        _arc(window, screen, start, end)
    x_px, y_px = _mark_px(screen)
    below = y_px - _to_px(WORDS_BELOW_DEG, screen, 1)
    height = max(14.0, _to_px(WORDS_HEIGHT_DEG, screen, 1))
    draw_text(window, said.words, height, (x_px, below), INK, said.right_to_left)


def _arc(window: Any, screen: Screen, start: float, end: float) -> None:
    from psychopy import visual

    steps = max(2, math.ceil((end - start) * STEPS_A_TURN))
    turns = [start + (end - start) * step / steps for step in range(steps + 1)]
    visual.ShapeStim(
        window,
        units="pix",
        vertices=[_point(screen, turn) for turn in turns],
        closeShape=False,
        fillColor=None,
        lineColor=INK,
        colorSpace="rgb",
        lineWidth=LINE_PX,
        autoLog=False,
    ).draw()


def _point(screen: Screen, turn: float) -> tuple[float, float]:
    x_px, y_px = _mark_px(screen)
    angle = 2 * math.pi * turn
    across, up = (_to_px(RADIUS_DEG, screen, axis) for axis in (0, 1))
    return x_px + across * math.sin(angle), y_px + up * math.cos(angle)


def _mark_px(screen: Screen) -> tuple[float, float]:
    """The mark's place in pixels from the window's middle."""
    x_cm, y_cm = screen.cm_per_px
    return screen.fixation_x_cm / x_cm, screen.fixation_y_cm / y_cm


def _to_px(angle_deg: float, screen: Screen, axis: int) -> float:
    return screen.distance_cm * math.tan(math.radians(angle_deg)) / screen.cm_per_px[axis]
