"""Half-tone matching on the window: shows what to compare, hears the keys, keeps every answer."""

from __future__ import annotations

import time
from pathlib import Path

from calibration.certificate import Identity
from calibration.instruments.eye_match import Look, Matching, MatchPlan, Request
from calibration.instruments.eye_meter import EyeMeter
from protocols.errors import InputError, Interrupted
from stimulus.buttons.inbox import Inbox
from stimulus.buttons.key_listener import Key, KeyListener
from stimulus.calibrating.answers import Answers, kept_answers
from stimulus.calibrating.bench import Progress
from stimulus.calibrating.shapes import half_tone_beside_solid
from stimulus.window import StimulusWindow

KEYS: dict[str, Look | None] = {
    "Up": "lighter",
    "Down": "darker",
    "Return": "equal",
    "Escape": None,
}
"""Key (X's name) to how the plain side looks; None stops, and what was answered is kept."""

WORDS = (
    "Sit so far away that the lines on the left melt together. The right side looks:",
    "Up arrow: lighter     Down arrow: darker     Return: equal     Escape: stop, go on later",
)


def matched_on(
    window: StimulusWindow,
    keys: KeyListener,
    plan: MatchPlan,
    kept: tuple[Path, Identity],
    progress: Progress,
) -> Matching:
    """A finished matching by whoever sits there; answers given before, in the file, are taken over.

    `keys` listens to the window. Raises Interrupted when told to stop, InputError for an answer
    that cannot be; the answers before it stay in the file.
    """
    inbox = keys.subscribe("The keyboard", KEYS)

    def told(done: int, of: int, shown: Request) -> None:
        progress(f"gamma, {shown.channel} by eye", done, of)

    with kept_answers(*kept, plan) as answers:
        try:
            return EyeMeter().matched(
                plan, lambda shown: _asked(window, inbox, answers, shown), answers.given, told
            )
        except InputError as error:
            answers.drop_last()
            todo = f"{error.todo} {answers.kept}"
            raise InputError(error.parameter, error.given, error.allowed, todo) from error
        finally:
            keys.unsubscribe(inbox)


def _asked(
    window: StimulusWindow, inbox: Inbox[Key], answers: Answers, shown: Request
) -> Look:
    """Show a request and wait for a key; keys typed before it was on are no answer."""
    size = window.screen.width_px, window.screen.height_px
    inbox.take()
    window.tiles(half_tone_beside_solid(shown, size), WORDS)
    while not (typed := inbox.take()):
        time.sleep(0.01)
    look = KEYS[typed[0][0]]
    if look is None:
        raise Interrupted(f"Stopped by the operator. {answers.kept}")
    answers.append(look)
    return look
