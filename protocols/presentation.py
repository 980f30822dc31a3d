"""One presentation: everything that is drawn before the window opens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from protocols.field import Eye, Place

Role = Literal["place", "blind_spot", "blank", "full_contrast"]


@dataclass(frozen=True)
class Presentation:
    """What is shown at one index of an exam.

    `level_db` is the nominal contrast in dB, None for a blank; `gap_s` the quiet time that
    follows the answer window, which is the next presentation's foreperiod.
    """

    index: int
    eye: Eye
    role: Role
    practice: bool
    place: Place
    place_number: int | None
    level_db: float | None
    contrast: float
    phase_deg: float
    gap_s: float
