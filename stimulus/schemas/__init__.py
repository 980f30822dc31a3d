"""JSON Schemas of the file formats as they are published: one file a format and number.

The files come from the types; a test holds them against each other, so that no format changes
unnoticed. A change that old files do not fit gets a new number, a new schema file and a step in
`protocols.migrate`; the old schema files stay.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from analysis.cases.record import record_schema
from analysis.piloting.plan import plan_schema
from analysis.piloting.result import pilot_schema
from analysis.result import result_schema
from calibration.certificate import certificate_schema
from protocols.cases.file import case_schema
from protocols.events import journal_schema
from protocols.migrate import current
from protocols.protocol import protocol_schema

HERE = Path(__file__).parent

MAKERS: dict[str, Callable[[], dict[str, Any]]] = {
    "protocol": protocol_schema,
    "journal": journal_schema,
    "result": result_schema,
    "certificate": certificate_schema,
    "plan": plan_schema,
    "pilot": pilot_schema,
    "case": case_schema,
    "case-record": record_schema,
}
"""What makes today's schema, by format."""


def schema_text(kind: str) -> str:
    """Today's schema of a format as its file holds it."""
    return json.dumps(MAKERS[kind](), indent=2) + "\n"


def shipped(kind: str, number: int | None = None) -> Path:
    """The published schema of a format: today's, or that of an earlier number."""
    return HERE / f"{kind}-{current(kind) if number is None else number}.json"
