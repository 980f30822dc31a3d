"""Taking out of a record what could tell who it is: another code, other dates, no initials.

Dates are shifted by a whole number of days, the same for all exams of a participant, to 1925 or
earlier: so BIDS tells shifted dates from real ones (Brain Imaging Data Structure 1.10, Scans file:
"it is RECOMMENDED to set shifted dates to the year 1925 or earlier"). Times of day stay.
"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import msgspec

from protocols.codes import require_code
from protocols.errors import InputError
from protocols.events import KINDS, Corrected, Event, Opened, kind_of
from protocols.journal import Entry

EARLIEST, LATEST = date(1900, 1, 1), date(1925, 12, 31)
WITHHELD = "withheld"
FREE_TEXT = frozenset({"reason", "text", "words", "notes", "set_aside"})
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)?")
_DAY = 10


@dataclass(frozen=True)
class Alias:
    """What a participant is called in the copy, and by how many days all dates are shifted."""

    was: str
    code: str
    shift_days: int


@dataclass(frozen=True)
class Span:
    """First and last day of a participant's exams."""

    first: date
    last: date

    def with_day(self, day: date) -> Span:
        """The span that holds this day too."""
        return Span(min(self.first, day), max(self.last, day))


def code_of(entries: list[Entry]) -> str:
    """The participant's code as it stands after all corrections."""
    events = [entry.event for entry in entries]
    put_right = [e.now for e in events if isinstance(e, Corrected) and e.what == "code"]
    opened = [e.participant for e in events if isinstance(e, Opened)]
    return (put_right or opened)[-1]


def span_of(entries: list[Entry]) -> Span:
    """First and last day of a record."""
    days = [date.fromisoformat(entry.utc[:_DAY]) for entry in entries]
    return Span(min(days), max(days))


def draw_aliases(spans: Mapping[str, Span], seed: int | None) -> dict[str, Alias]:
    """A new code and a shift for each participant; without a seed nobody can draw them again.

    Raises InputError when a new code would not be allowed, and for exams too far apart to lie all
    between `EARLIEST` and `LATEST`.
    """
    draw: random.Random = random.SystemRandom() if seed is None else random.Random(seed)
    numbers = draw.sample(range(10_000, 100_000), len(spans))
    return {
        was: Alias(was, require_code(f"S-{number}"), _shift_days(was, spans[was], draw))
        for was, number in zip(sorted(spans), numbers, strict=True)
    }


def _shift_days(was: str, span: Span, draw: random.Random) -> int:
    room = (LATEST - EARLIEST).days - (span.last - span.first).days
    if room < 0:
        raise InputError(
            "DIR",
            f"exams of {was} from {span.first} to {span.last}",
            f"exams of one participant within {LATEST.year - EARLIEST.year} years",
            "A clock was wrong at one of them: leave that one out.",
        )
    first = EARLIEST + timedelta(days=draw.randint(0, room))
    return (first - span.first).days


def scrub_event(event: Event, alias: Alias) -> Event:
    """The event with nothing in it that could tell who it is."""
    kind = kind_of(event)
    data = scrub_values(msgspec.to_builtins(event), alias)
    event_type: type[Event] = KINDS[kind]
    return msgspec.convert(data | _withheld(kind, data, alias), event_type)


def _withheld(kind: str, data: dict[str, Any], alias: Alias) -> dict[str, Any]:
    if kind == "opened":
        return {"participant": alias.code, "command": WITHHELD}
    if kind == "caution" and not data["confirmed_by"].startswith("nobody"):
        return {"confirmed_by": WITHHELD}
    if kind == "practice" and data["by"] and not data["by"].startswith("nobody"):
        return {"by": WITHHELD}
    if kind == "corrected":
        code = {"was": WITHHELD, "now": alias.code} if data["what"] == "code" else {}
        return {"by": WITHHELD, **code}
    return {}


def scrub_values(value: Any, alias: Alias, key: str = "") -> Any:
    """Plain data with every date and time shifted, and the old code replaced in free text."""
    if isinstance(value, dict):
        return {name: scrub_values(inner, alias, name) for name, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [scrub_values(inner, alias, key) for inner in value]
    return scrub_text(value, alias, key in FREE_TEXT) if isinstance(value, str) else value


def scrub_text(text: str, alias: Alias, free: bool) -> str:
    """Text with its dates and times shifted; in free text the old code is replaced as a word.

    >>> scrub_text("p-1 pauses, not P-17", Alias("P-1", "S-1", 0), True)
    'S-1 pauses, not P-17'
    """
    moved = _MOMENT.sub(lambda found: _shifted_or_withheld(found[0], alias), text)
    if not free:
        return moved
    word = rf"(?<![A-Za-z0-9]){re.escape(alias.was)}(?![A-Za-z0-9])"
    return re.sub(word, alias.code, moved, flags=re.IGNORECASE)


def _shifted_or_withheld(text: str, alias: Alias) -> str:
    """A text may look like a date that no calendar has, such as the 30th of February."""
    try:
        return shifted(text, alias)
    except (ValueError, OverflowError):
        return WITHHELD


def shifted(moment: str, alias: Alias) -> str:
    """A date and time, ISO 8601, moved by whole days; what follows the day stays as it is.

    >>> shifted("2030-01-02T09:30:00.000000Z", Alias("P-1", "S-1", -1))
    '2030-01-01T09:30:00.000000Z'
    """
    day = datetime.fromisoformat(moment[:_DAY]) + timedelta(days=alias.shift_days)
    return day.date().isoformat() + moment[_DAY:]
