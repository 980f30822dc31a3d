"""Lab Streaming Layer outlets for stimulus and press markers, beside the journal.

A marker bears the moment of its event, not that of its sending: it is sent when the journal has
it, after the light, so that nothing is sent while light is shown. liblsl stamps with its own clock
(lsl_local_clock, a monotonic one); the difference to ours is measured anew for each marker.

The library itself puts the host's name into the streams' headers; no marker holds it.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from protocols import RESEARCH_ONLY
from protocols.conduct import Record
from protocols.errors import InputError
from protocols.events import Event
from protocols.files import sha256_hex
from stimulus.clock import clock
from stimulus.streams.clocks import offset_s
from stimulus.streams.markers import Marker, Marking, Stream

NAMES: dict[Stream, str] = {
    "stimulus": "Ripplefield stimulus",
    "presses": "Ripplefield presses",
}
IRREGULAR_HZ = 0.0
INSTALL = "Install it: pip install pylsl"


class Outlets:
    """Two open marker streams; `exam` makes their source the same when an exam is taken up."""

    def __init__(self, exam: str) -> None:
        lsl = _library()
        self._now: Callable[[], float] = lsl.local_clock
        self._outlets = {stream: _outlet(lsl, stream, exam) for stream in NAMES}

    def send(self, marker: Marker, origin_s: float) -> None:
        """Send a marker; `origin_s` is our clock at the journal's zero."""
        moment_s = origin_s + marker.journal_s + offset_s(self._now)
        says = marker.says | {"journal_s": round(marker.journal_s, 6)}
        self._outlets[marker.stream].push_sample([json.dumps(says)], moment_s)

    def beside(self, journal: Record, origin_s: float) -> Record:
        """A record that writes to the journal first and then sends what it wrote."""
        return _Streamed(journal, self, origin_s)

    def close(self) -> None:
        """Take the streams off the network."""
        self._outlets = {}


class _Streamed:
    def __init__(self, journal: Record, outlets: Outlets, origin_s: float) -> None:
        self._journal = journal
        self._outlets = outlets
        self._origin_s = origin_s
        self._marking = Marking()
        self._waiting: list[Marker] = []

    def append(self, event: Event) -> None:
        self._journal.append(event)
        self._waiting += self._marking.of(event, clock() - self._origin_s)

    def sync(self) -> None:
        """What is safe on disk is sent, and nothing else."""
        self._journal.sync()
        waiting, self._waiting = self._waiting, []
        for marker in waiting:
            self._outlets.send(marker, self._origin_s)


def exam_id(protocol_sha256: str, seed: int) -> str:
    """What marks the streams of one exam; it tells nothing of the participant."""
    return sha256_hex(f"{protocol_sha256} {seed}".encode())[:16]


def _outlet(lsl: Any, stream: Stream, exam: str) -> Any:
    info = lsl.StreamInfo(
        NAMES[stream], "Markers", 1, IRREGULAR_HZ, lsl.cf_string, f"ripplefield-{stream}-{exam}"
    )
    about = info.desc()
    about.append_child_value("notice", RESEARCH_ONLY)
    about.append_child_value("format", "JSON text, one object a marker")
    about.append_child_value("journal_s", "seconds on the clock of the exam's journal")
    return lsl.StreamOutlet(info)


def _library() -> Any:
    try:
        import pylsl
    except ImportError:
        raise InputError("--lsl", "no library for it", "the library pylsl", INSTALL) from None
    except RuntimeError as error:  # the package is there, the library it binds is not
        first = str(error).strip().splitlines()[0]
        raise InputError("--lsl", first, "the library pylsl with liblsl", INSTALL) from None
    return pylsl
