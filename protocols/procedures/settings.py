"""Settings of each procedure as they stand in a protocol file."""

from __future__ import annotations

from typing import Annotated

import msgspec


class RisingSettings(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="rising"
):
    """Screening: reference limit first, then rising contrast, the last try at full contrast."""

    tries: Annotated[int, msgspec.Meta(ge=1, le=3)] = 3
    step_db: Annotated[float, msgspec.Meta(ge=1.0, le=20.0)] = 4.0


ProcedureSettings = RisingSettings
