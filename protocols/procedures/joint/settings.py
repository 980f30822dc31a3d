"""Settings of the joint procedure as they stand in a protocol file."""

from __future__ import annotations

from typing import Annotated

import msgspec

Seconds = Annotated[float, msgspec.Meta(ge=0.1, le=20.0)]


class JointSettings(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="joint"
):
    """Thresholds of the whole field at once. The exam ends when every place is sure enough.

    Sure enough: looked at, and the SD of its sensitivity, with a deep loss suspected everywhere,
    is at most `sd_db`, or its most likely grade has at least `grade_certainty` (1 leaves that rule
    out), or it was asked `most` times. `reference_spread_db` is the SD between healthy people of an
    age, so that their mean lies 2.33 such SDs above the limits an exam starts from.
    """

    sd_db: Annotated[float, msgspec.Meta(ge=0.5, le=10.0)] = 2.65
    grade_certainty: Annotated[float, msgspec.Meta(ge=0.5, le=1.0)] = 1.0
    most: Annotated[int, msgspec.Meta(ge=1, le=1000)] = 12
    reference_spread_db: Annotated[float, msgspec.Meta(ge=0.5, le=10.0)] = 2.5
    seen_s: Seconds = 1.1
    unseen_s: Seconds = 1.5

    @property
    def answers_per_place(self) -> tuple[int, int]:
        """Fewest and most presentations at one place."""
        return 1, self.most
