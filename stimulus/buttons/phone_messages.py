"""What the station tells a running exam of a phone that serves as its button."""

from __future__ import annotations

import contextlib
import socket
from pathlib import Path

import msgspec

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
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        sender.setblocking(False)
        sender.sendto(msgspec.json.encode(message), str(path))


def read(data: bytes) -> Report | Press | None:
    """A message, None for anything else."""
    try:
        return msgspec.json.decode(data, type=Report | Press)
    except msgspec.DecodeError:
        return None
