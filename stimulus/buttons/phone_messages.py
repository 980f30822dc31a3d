"""What the station tells a running exam of a phone that serves as its button."""

from __future__ import annotations

from pathlib import Path

import msgspec

from protocols.files import UNREADABLE_JSON
from stimulus.buttons.own_socket import send_once

LARGEST = 2048


class Report(msgspec.Struct, frozen=True, tag="report"):
    """What was measured: why presses are refused (empty if not), and how sure their times are."""

    refusal: str
    uncertainty_s: float
    words: str


class Press(msgspec.Struct, frozen=True, tag="press"):
    """A press, seconds on the shared clock."""

    at_s: float


def send(path: Path, message: Report | Press) -> None:
    """Tell the exam that listens at `path`, without waiting; if nobody does, fine."""
    send_once(msgspec.json.encode(message), path)


def read(data: bytes) -> Report | Press | None:
    """A message, None for anything else."""
    try:
        return msgspec.json.decode(data, type=Report | Press)
    except UNREADABLE_JSON:
        return None
