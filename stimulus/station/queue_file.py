"""The queue on disk: one JSON file, replaced whole at each change."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import msgspec
from msgspec.structs import replace

from protocols.errors import InputError
from protocols.files import UNREADABLE_JSON
from protocols.journal import utc_now
from protocols.write import write_whole
from stimulus.station.queue import Entry, Queue, find, with_entry

FILE = "queue.json"


class QueueFile:
    """The queue of a data folder. Changes come one after the other and are on disk at once."""

    def __init__(self, data: Path, station: Callable[[], str]) -> None:
        self._path, self._station = data / FILE, station
        self._lock = threading.Lock()
        self._queue = _read(self._path)

    @property
    def queue(self) -> Queue:
        """The queue as it stands."""
        return self._queue

    def change(self, how: Callable[[Queue], Queue]) -> Queue:
        """Replace the queue by what `how` makes of it; nothing changes if that raises."""
        with self._lock:
            old = {entry.id: entry for entry in self._queue.entries}
            new = how(self._queue)
            entries = [self._stamped(e) if old.get(e.id) != e else e for e in new.entries]
            new = replace(new, entries=entries)
            write_whole(self._path, msgspec.json.format(msgspec.json.encode(new), indent=1) + b"\n")
            self._queue = new
            return new

    def change_entry(self, entry_id: str, how: Callable[[Entry], Entry]) -> Entry:
        """Replace one entry; raises InputError if it is not there."""
        queue = self.change(lambda queue: with_entry(queue, how(find(queue, entry_id))))
        return find(queue, entry_id)

    def _stamped(self, entry: Entry) -> Entry:
        return replace(entry, changed_utc=utc_now(), changed_by=self._station())


def _read(path: Path) -> Queue:
    if not path.exists():
        return Queue()
    try:
        return msgspec.json.decode(path.read_bytes(), type=Queue)
    except (OSError, *UNREADABLE_JSON) as error:
        raise InputError(
            str(path), str(error), "a queue of format 1", "Restore it from a backup, or move it."
        ) from None
