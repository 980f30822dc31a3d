"""Eight hours at a station in fast time: does memory stay flat, do pages answer at once?

`python tests/bench/station_day.py [HOURS]`: 500 people in the queue; one exam after the other is
made by the simulation path (virtual clock, real journal, graded), as many as the hours hold with
`CHANGE_S` between people. After each one every page is asked for once, its result page
twice: the pictures are made at the first asking (a running station makes them when an exam's
program ends). Printed: middle and longest
time of each page over the day and over its last quarter, resident memory along the day, and how
much it grew a session over the second half.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path

import httpx

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "station")]
from day_rig import BEGAN, OBSERVERS  # noqa: E402
from records import sitting  # noqa: E402
from station_rig import prepare  # noqa: E402

from analysis.grade import grade_folder  # noqa: E402
from analysis.reference import load_reference  # noqa: E402
from protocols.journal import read  # noqa: E402
from protocols.library import bundled_observer, load_protocol  # noqa: E402
from protocols.observer import load_observer  # noqa: E402
from stimulus.station.queue import Entry, added, new_entry  # noqa: E402
from stimulus.station.queue_file import QueueFile  # noqa: E402
from stimulus.virtual_exam import run_virtual_exam  # noqa: E402

PEOPLE, CHANGE_S, HOURS = 500, 60.0, 8.0
PATHS = ("/queue", "/checks", "/say", "/live", "/results", "/day", "/settings", "/day.csv")
PROGRAM = Path(__file__).with_name("station_day_program.py")


@dataclass
class Day:
    """What a day came to: seconds of each page's answers, resident megabytes after each exam.

    `drawn` are result pages that nobody has asked for: their pictures are still to be made.
    """

    exams: int = 0
    clock_s: float = 0.0
    times_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    resident_mb: list[float] = field(default_factory=list)
    drawn: set[str] = field(default_factory=set)

    def growth_mb(self) -> float:
        """Growth of memory over the second half, by the least-squares line, megabytes in all."""
        half = self.resident_mb[len(self.resident_mb) // 2 :]
        if len(half) < 2:
            return 0.0
        return statistics.linear_regression(range(len(half)), half).slope * (len(half) - 1)


@dataclass
class Desk:
    """The station's program with a browser's session."""

    program: subprocess.Popen[str]
    client: httpx.Client

    def tested(self, entry: Entry, exam: str) -> None:
        """Tell the station that an exam was run."""
        assert self.program.stdin is not None
        assert self.program.stdout is not None
        self.program.stdin.write(f"tested {entry.id} {exam}\n")
        self.program.stdin.flush()
        assert self.program.stdout.readline() == "noted\n"

    def resident_mb(self) -> float:
        pages = int(Path(f"/proc/{self.program.pid}/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@contextmanager
def desk(data: Path) -> Iterator[Desk]:
    """A station on a data folder, ended at the end."""
    program = subprocess.Popen(
        [sys.executable, str(PROGRAM), str(data)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert program.stdout is not None
        link = program.stdout.readline().strip()
        address = link.split("/open")[0]
        client = httpx.Client(base_url=address, headers={"origin": address}, timeout=60)
        assert client.get(link).status_code == 303
        yield Desk(program, client)
    finally:
        program.terminate()
        program.wait(timeout=20)


def queue_up(data: Path, people: int) -> list[Entry]:
    """A data folder with so many who wait."""
    prepare(data)
    languages = ("en", "es", "fr")
    entries = [
        new_entry(f"P-{n:03d}", 20 + n % 60, n % 2 == 0, "both", "no", languages[n % 3])
        for n in range(people)
    ]
    QueueFile(data, lambda: "hall-1").change(lambda queue: added(queue, entries))
    return entries


def examined(data: Path, entry: Entry, number: int, at_s: float) -> tuple[str, float]:
    """One exam of both eyes with practice; its name, and its length on its own clock."""
    exam = f"{entry.code}-1"
    seat = replace(
        sitting(seed=number, eyes=("right", "left"), practice=True),
        participant=entry.code,
        age_years=entry.age_years,
        confirmed_by=("AB", "CD")[number % 2],
        language=entry.language,
    )
    folder = data / "exams" / exam
    run_virtual_exam(
        folder,
        load_protocol("screen-19"),
        load_reference(),
        seat,
        load_observer(bundled_observer(OBSERVERS[number % len(OBSERVERS)])),
        BEGAN + timedelta(seconds=at_s),
    )
    grade_folder(folder)
    return exam, list(read(folder))[-1].t_s


def live_through(data: Path, hours: float, people: int = PEOPLE, most: int = PEOPLE) -> Day:
    """A day of so many hours on the exams' clock, or of `most` exams."""
    entries, day = queue_up(data, people), Day()
    with desk(data) as station:
        look(station, day, ("/queue",))
        while day.clock_s < 3600 * hours and day.exams < min(most, len(entries)):
            entry = entries[day.exams]
            exam, length_s = examined(data, entry, day.exams, day.clock_s)
            station.tested(entry, exam)
            day.exams += 1
            day.clock_s += length_s + CHANGE_S
            day.drawn.add(f"/results/{exam}")
            look(station, day, (*PATHS, f"/results/{exam}", f"/results/{exam}"))
            day.resident_mb.append(station.resident_mb())
    return day


def look(station: Desk, day: Day, paths: tuple[str, ...]) -> None:
    """Ask for each page once."""
    for path in paths:
        start_s = time.perf_counter()
        answer = station.client.get(path)
        name = path
        if path.startswith("/results/"):
            name = "result, drawn" if path in day.drawn else "result, kept"
            day.drawn.discard(path)
        day.times_s[name].append(time.perf_counter() - start_s)
        assert answer.status_code == 200, (path, answer.status_code)


def main(hours: float) -> None:
    with tempfile.TemporaryDirectory() as folder:
        day = live_through(Path(folder) / "d", hours)
    print(f"{day.exams} exams in {day.clock_s / 3600:.1f} h of their own clock, "
          f"{PEOPLE} in the queue")  # fmt: skip
    for path, times_s in day.times_s.items():
        late = times_s[3 * len(times_s) // 4 :]
        print(
            f"{path:14} middle {1000 * statistics.median(times_s):6.1f} ms, last quarter "
            f"{1000 * statistics.median(late):6.1f} ms, longest {1000 * max(times_s):6.1f} ms"
        )
    shown = day.resident_mb[:: max(1, len(day.resident_mb) // 8)]
    print("resident memory along the day, MB: " + ", ".join(f"{mb:.0f}" for mb in shown))
    print(f"growth over the second half: {day.growth_mb():.1f} MB")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else HOURS)
