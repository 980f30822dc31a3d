"""From a protocol's settings to its procedure."""

from __future__ import annotations

from protocols.procedures.rising import Rising
from protocols.procedures.settings import ProcedureSettings


def build_procedure(settings: ProcedureSettings) -> Rising:
    """The procedure that a protocol's `procedure` table describes."""
    return Rising(settings)
