"""The plan of one exam: all that is fixed before the first presentation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from protocols.errors import InputError
from protocols.field import EYES, Eye, Floats, Place, for_eye, other_eye
from protocols.library import Protocol
from protocols.procedures.build import build_procedure
from protocols.procedures.interface import Procedure


@dataclass(frozen=True)
class ExamPlan:
    """Protocol, eyes in order, nominal first levels per place and eye (dB), seed.

    `latency_s` is how much too long the display and the button make a response time;
    `practice_required` that practice must be passed or waived, which records of before that lack.
    """

    protocol: Protocol
    eyes: tuple[Eye, ...]
    limits_db: Mapping[Eye, tuple[float, ...]]
    seed: int
    skip_practice: bool = False
    latency_s: float = 0.0
    practice_required: bool = True

    @cached_property
    def procedure(self) -> Procedure[Any]:
        """The procedure the protocol names."""
        return build_procedure(self.protocol.settings.procedure, self.protocol.pattern.places)

    def places(self, eye: Eye) -> tuple[Place, ...]:
        """The pattern's places for an eye."""
        return self.protocol.pattern.for_eye(eye)

    def blind_spot(self, eye: Eye) -> Place:
        """Where the fixation target of an eye is shown."""
        spot = self.protocol.settings.blind_spot
        return for_eye(Place(spot.x_deg, spot.y_deg), eye)

    def limits(self, eye: Eye) -> Floats:
        """First levels of an eye as an array (1, places)."""
        return np.asarray([self.limits_db[eye]], float)


def eyes_in_order(protocol: Protocol, wanted: str) -> tuple[Eye, ...]:
    """The eyes to test, in the protocol's order; `wanted` is right, left or both.

    Raises InputError for another word.
    """
    first: Eye = protocol.settings.eyes.first
    if wanted == "both":
        return (first, other_eye(first))
    for eye in EYES:
        if wanted == eye:
            return (eye,)
    raise InputError("--eye", wanted, "right, left or both", "Choose one of them.")


def nominal_limits_db(
    limits_db: tuple[float, ...], delivery: float, places: tuple[Place, ...]
) -> tuple[float, ...]:
    """Nominal levels that deliver reference limits on a display, in dB.

    `delivery` is delivered over nominal contrast (frame hold times panel response). Raises
    InputError where the limit needs more than the display's full contrast.
    """
    loss_db = -20 * np.log10(delivery)
    for limit, place in zip(limits_db, places, strict=True):
        if limit < loss_db:
            raise InputError(
                "reference limit",
                f"{limit:.1f} dB at ({place.x_deg:.1f}, {place.y_deg:.1f}) deg",
                f"{loss_db:.1f} dB and up, the display's full contrast at this flicker rate",
                "Use a faster display or a lower flicker rate.",
            )
    return tuple(float(limit - loss_db) for limit in limits_db)
