"""A station for `station_day.py`: the real pages, told by lines on standard input what happened.

`tested ID EXAM` marks an entry as the queue's own start would, and makes the exam the last run, so
that the live page follows its journal. Everything else is the station as it is.
"""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import uvicorn
from msgspec.structs import replace

from stimulus.station import serve
from stimulus.station.access import Access
from stimulus.station.app import Station, build_app
from stimulus.station.guard import Guard
from stimulus.station.runs import Run


def main(data: str) -> None:
    """Serve on loopback and print the link."""
    door = serve.Door()
    listener = serve._listen(door)
    port = listener.getsockname()[1]
    access = Access(port)
    station = Station(Path(data), access)
    app = Guard(build_app(station), access, serve._hosts(door.host, port))
    threading.Thread(target=_heed, args=(station,), daemon=True).start()
    print(f"http://{door.host}:{port}/open?token={access.token}", flush=True)
    uvicorn.Server(serve._config(app, door)).run(sockets=[listener])


def _heed(station: Station) -> None:
    for line in sys.stdin:
        _, entry_id, exam = line.split()
        station.queue_file.change_entry(
            entry_id, lambda e, exam=exam: replace(e, state="tested", exams=[*e.exams, exam])
        )
        station.runs._current = Run(exam, entry_id, 0)
        print("noted", flush=True)


if __name__ == "__main__":
    main(sys.argv[1])
