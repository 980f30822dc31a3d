"""What goes out beside the journal: one marker, as JSON text, for an event of the exam."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from protocols.events import AnsweredLine, Closed, Event, EyeLine, Held, Presented, Resumed

Stream = Literal["stimulus", "presses"]
PRESENTED = (
    "index", "eye", "role", "practice", "x_deg", "y_deg", "level_db", "contrast_delivered",
    "spoiled",
)  # fmt: skip


@dataclass(frozen=True)
class Marker:
    """A marker: its stream, its moment in seconds on the journal's clock, and what it says."""

    stream: Stream
    journal_s: float
    says: dict[str, Any]


@dataclass
class Marking:
    """Turns events into markers. Presses are told with the answer, stamped when they came."""

    onset_s: float = 0.0

    def of(self, event: Event, now_s: float) -> list[Marker]:
        """Markers of an event that is recorded at `now_s`, seconds on the journal's clock."""
        if isinstance(event, Presented):
            self.onset_s = event.onset_s
            says = {key: getattr(event, key) for key in PRESENTED}
            return [Marker("stimulus", event.onset_s, {"event": "onset", **says})]
        if isinstance(event, AnsweredLine):
            return [self._press(event, after_s) for after_s in event.presses_s]
        return _of_course(event, now_s)

    def _press(self, answer: AnsweredLine, after_s: float) -> Marker:
        says = {"event": "press", "index": answer.index, "after_onset_s": after_s}
        return Marker("presses", self.onset_s + after_s, says)


def _of_course(event: Event, now_s: float) -> list[Marker]:
    """How the exam goes: an eye begins, a hold, the end."""
    if isinstance(event, EyeLine):
        says = {"event": "eye", "eye": event.eye, "skipped": event.skipped}
    elif isinstance(event, Held):
        says = {"event": "held", "reason": event.reason}
    elif isinstance(event, Resumed):
        says = {"event": "resumed", "after": event.after}
    elif isinstance(event, Closed):
        says = {"event": "closed", "reason": event.reason}
    else:
        return []
    return [Marker("stimulus", now_s, says)]
