"""A day that has happened: queue and records of virtual exams, in a station's data folder."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

from msgspec import structs
from records import sitting
from station_rig import prepare

from analysis.grade import grade_folder
from analysis.reference import load_reference
from protocols.library import bundled_observer, load_protocol
from protocols.observer import load_observer
from stimulus.station.queue import Entry, added, new_entry
from stimulus.station.queue_file import QueueFile
from stimulus.virtual_exam import run_virtual_exam

BEGAN = datetime(2030, 1, 2, 9, 0, tzinfo=timezone.utc)
OBSERVERS = ("arc-loss", "trigger-happy", "healthy", "lone-loss")


def exam(data: Path, code: str, number: int, observer: str, initials: str, grade=True) -> str:
    """One virtual exam of both eyes, begun `number` times six minutes after nine."""
    name = f"{code}-1"
    seat = replace(
        sitting(seed=number, eyes=("right", "left")), participant=code, confirmed_by=initials
    )
    folder = data / "exams" / name
    run_virtual_exam(
        folder,
        load_protocol("screen-19"),
        load_reference(),
        seat,
        load_observer(bundled_observer(observer)),
        BEGAN + timedelta(minutes=6 * number),
    )
    if grade:
        grade_folder(folder)
    return name


def happened(data: Path, people: int = 4, waiting: int = 2) -> Path:
    """A day with so many exams, and so many who wait; one did not come, one may not take part."""
    prepare(data)
    file = QueueFile(data, lambda: "hall-1")
    tested = [_tested(data, number) for number in range(people)]
    more = [new_entry(f"W-{n:03d}", 20 + n % 60, n % 2 == 0, "both", "no", "en")
            for n in range(waiting)]  # fmt: skip
    absent = structs.replace(
        new_entry("N-001", 50, False, "both", "no", "en"), state="no-show"
    )
    excluded = new_entry("X-001", 33, True, "right", "yes", "fr")
    open_question = new_entry("Q-001", 71, True, "left", "not asked", "es")
    entries = [*tested, *more, absent, excluded, open_question]
    file.change(lambda queue: added(queue, entries))
    return data


def _tested(data: Path, number: int) -> Entry:
    observer = OBSERVERS[number % len(OBSERVERS)]
    name = exam(data, f"P-{number:03d}", number, observer, ("AB", "CD")[number % 2])
    entry = new_entry(f"P-{number:03d}", 45, False, "both", "no", ("en", "es", "fr")[number % 3])
    return structs.replace(entry, state="tested", exams=[name])
