"""Who is next: a list of codes with what an exam needs to know, and nothing that names a person.

Entries carry an id, the station that changed them last and when, so that lists of several stations
can be merged: of two entries with one id, the later stands.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from typing import Annotated, Literal

import msgspec
from msgspec.structs import replace

from protocols.codes import require_code
from protocols.errors import InputError, OrderError

Eyes = Literal["both", "right", "left"]
Flicker = Literal["no", "yes", "unsure", "not asked"]
Stored = Literal["waiting", "no-show", "tested"]
EYES: tuple[Eyes, ...] = ("both", "right", "left")
FLICKER: tuple[Flicker, ...] = ("no", "yes", "unsure", "not asked")
MOST_ENTRIES = 2000


class Entry(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One participant of the day. `flicker` answers the photosensitivity question."""

    id: str
    code: str
    age_years: Annotated[int, msgspec.Meta(ge=5, le=110)]
    glasses: bool
    eyes: Eyes
    flicker: Flicker
    language: str
    state: Stored = "waiting"
    exams: list[str] = []
    why_again: str = ""
    changed_utc: str = ""
    changed_by: str = ""

    @property
    def may_take_part(self) -> bool:
        """Whether the photosensitivity question was answered with no."""
        return self.flicker == "no"


class Queue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The file `queue.json`, format 1."""

    format: Literal[1] = 1
    entries: list[Entry] = []


def new_entry(
    code: str, age_years: int, glasses: bool, eyes: Eyes, flicker: Flicker, language: str
) -> Entry:
    """An entry that waits; raises InputError for a code that may tell who it is."""
    return Entry(
        secrets.token_hex(6), require_code(code), age_years, glasses, eyes, flicker, language
    )


def added(queue: Queue, new: Sequence[Entry]) -> Queue:
    """The queue with entries at its end; raises InputError for a code that is in it already."""
    known = {entry.code.casefold() for entry in queue.entries}
    for entry in new:
        if entry.code.casefold() in known:
            raise InputError(
                "code", entry.code, "a code that is not in the queue yet",
                "Correct it, or use Repeat at the entry that is there.",
            )  # fmt: skip
        known.add(entry.code.casefold())
    if len(queue.entries) + len(new) > MOST_ENTRIES:
        raise InputError(
            "queue", len(queue.entries) + len(new), f"up to {MOST_ENTRIES} entries",
            "Begin a new data folder for another day.",
        )  # fmt: skip
    return replace(queue, entries=[*queue.entries, *new])


def find(queue: Queue, entry_id: str) -> Entry:
    """The entry with this id; raises InputError."""
    for entry in queue.entries:
        if entry.id == entry_id:
            return entry
    raise InputError("entry", entry_id, "an entry of the queue", "Load the page again.")


def with_entry(queue: Queue, changed: Entry) -> Queue:
    """The queue with one entry put in the place of its old self."""
    find(queue, changed.id)
    entries = [changed if entry.id == changed.id else entry for entry in queue.entries]
    return replace(queue, entries=entries)


def moved(queue: Queue, entry_id: str, step: int) -> Queue:
    """The queue with a waiting entry moved among the waiting ones, `step` places down."""
    entry = find(queue, entry_id)
    waiting = [n for n, other in enumerate(queue.entries) if other.state == "waiting"]
    if entry.state != "waiting":
        raise OrderError(f"cannot move {entry.code}: only those who wait have an order")
    at = waiting.index(queue.entries.index(entry))
    to = min(max(at + step, 0), len(waiting) - 1)
    order = list(waiting)
    order.insert(to, order.pop(at))
    entries = list(queue.entries)
    for place, source in zip(waiting, order, strict=True):
        entries[place] = queue.entries[source]
    return replace(queue, entries=entries)


def removed(queue: Queue, entry_id: str) -> Queue:
    """The queue without an entry that has no exam yet; raises OrderError if it has one."""
    entry = find(queue, entry_id)
    if entry.exams:
        raise OrderError(f"cannot remove {entry.code}: an exam was run; its record stays")
    return replace(queue, entries=[other for other in queue.entries if other.id != entry_id])


def next_waiting(queue: Queue) -> Entry | None:
    """The first who waits and may take part."""
    return next((e for e in queue.entries if e.state == "waiting" and e.may_take_part), None)


def merged(one: Queue, other: Queue) -> Queue:
    """Both queues in one: the order of `one`, then what only `other` has; the later change stands.

    >>> merged(Queue(), Queue()).entries
    []
    """
    later = {entry.id: entry for entry in other.entries}
    entries = [_later(entry, later.pop(entry.id, entry)) for entry in one.entries]
    return Queue(entries=[*entries, *later.values()])


def _later(one: Entry, other: Entry) -> Entry:
    newest = other if other.changed_utc > one.changed_utc else one
    exams = list(dict.fromkeys([*one.exams, *other.exams]))
    return replace(newest, exams=exams)
