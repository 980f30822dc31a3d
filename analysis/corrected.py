"""A wrong entry put right: what the record says of the eye once the true one is known.

What the screen showed stays what it was, in degrees as the participant saw it. The eye it was shown
to is another one, so each place lies on the other side of that eye's field: nasal for temporal. The
limits are those of the true eye at the places shown, and targets meant for the blind spot did not
lie on it: they say nothing of the gaze.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from msgspec.structs import replace as replace_fields

from protocols.events import (
    SWAPPED,
    Corrected,
    Event,
    EyeLine,
    Opened,
    PracticeLine,
    Presented,
)
from protocols.field import Eye, other_eye
from protocols.library import Protocol

TrueEye = Mapping[Eye, Eye]


def true_eyes(opened: Opened, events: Sequence[Event]) -> TrueEye:
    """The true eye for each one entered; empty where nothing about the eye was corrected.

    The last correction holds; one that only takes another back leaves the record as it was.
    """
    told = [e.now for e in events if isinstance(e, Corrected) and e.what == "eye"]
    if not told:
        return {}
    if told[-1] == SWAPPED:
        return {eye: other_eye(eye) for eye in opened.eyes}
    first, other = opened.eyes[0], other_eye(opened.eyes[0])
    return {first: other} if len(opened.eyes) == 1 and told[-1] == other else {}


def opened_of(opened: Opened, true: TrueEye) -> Opened:
    """The first line as it had been with the right entry; first levels stay those that were shown.

    They are of the places as numbered, so they go with the eye.
    """
    return replace_fields(
        opened,
        eyes=[true[eye] for eye in opened.eyes],
        limits_db=_moved(opened.limits_db, true),
        reference_limits_db=_moved(opened.reference_limits_db, true),
    )


def _moved(by_eye: dict[str, list[float]], true: TrueEye) -> dict[str, list[float]]:
    return {new: by_eye[old] for old, new in true.items() if old in by_eye}


def event_of(event: Event, true: TrueEye) -> Event:
    """A line with the true eye; places in degrees as seen stay."""
    if isinstance(event, EyeLine | Presented | PracticeLine):
        moved: Any = replace_fields(event, eye=true.get(event.eye, event.eye))
        return moved  # type: ignore[no-any-return]
    return event


def protocol_of(protocol: Protocol) -> Protocol:
    """The protocol whose places, for the true eye, are those that were shown to it."""
    mirrored = tuple(place.mirrored for place in protocol.pattern.places)
    return replace(protocol, pattern=replace(protocol.pattern, places=mirrored))


def correction_words(corrections: Sequence[Corrected]) -> list[str]:
    """Each correction as a sentence."""
    return [
        f"Corrected after the exam: {c.what} was {c.was}, is {c.now} (by {c.by})."
        for c in corrections
    ]
