"""The station under load: do frames come late, do pages wait, does memory grow?

One run, three measurements: late frames of a real exam with and without a flood of requests (1,000
open connections, uploads, page after page), the middle time of each page beside a queue of 500, and
resident memory over a day's worth of requests. Run: python tests/bench/station_load.py
"""

from __future__ import annotations

import contextlib
import os
import socket
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

import httpx

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "station")]
from day_rig import happened  # noqa: E402
from exam_rig import data_of, journal  # noqa: E402
from station_rig import Running, station, until  # noqa: E402

from protocols import library  # noqa: E402
from protocols.library import bundled_observer  # noqa: E402
from stimulus.virtual_screen import virtual_screen  # noqa: E402

PATHS = ("/queue", "/checks", "/say", "/live", "/results", "/results/P-000-1", "/day", "/settings")
PRESENTATIONS = 45
DAY_REQUESTS = 2000


def main() -> None:
    """Print the three measurements."""
    with tempfile.TemporaryDirectory() as folder, virtual_screen(1280, 720) as display:
        data = happened(Path(folder) / "d", people=12, waiting=488)
        observer = bundled_observer("arc-loss").read_text()
        (data / "protocols" / "tiny.toml").write_text(_protocol())
        settings = (data / "station.toml").read_text()
        for small, large in (
            ("640x480", "1280x720"), ("distance_cm = 20", "distance_cm = 35"),
            ("width_cm = 20", "width_cm = 53"),
        ):  # fmt: skip
            settings = settings.replace(small, large)
        (data / "station.toml").write_text(settings)
        (data / "observers" / "observer.toml").write_text(observer)
        with station(data, display) as running:
            pages(running)
            memory(running)
            frames(running)


def _protocol() -> str:
    """The bundled screening, going on whatever the display does."""
    text = (Path(library.__file__).parent / "screen-19.toml").read_text()
    return f"{text}\n[frames]\nlate_allowed = 1000\n"


def pages(running: Running) -> None:
    """Middle and longest time of each page."""
    client = running.client(timeout=30)
    for path in PATHS:
        client.get(path)
        times_s = [_timed(client, path) for _ in range(15)]
        print(f"{path:18} middle {1000 * statistics.median(times_s):6.1f} ms, "
              f"longest {1000 * max(times_s):6.1f} ms")  # fmt: skip


def _timed(client: httpx.Client, path: str) -> float:
    start = time.perf_counter()
    assert client.get(path).status_code == 200
    return time.perf_counter() - start


def memory(running: Running) -> None:
    """Resident memory over a day: a look every 14 seconds for eight hours, and 100 live pages."""
    client = running.client(timeout=30)
    at = [_resident_mb(running)]
    for number in range(DAY_REQUESTS):
        client.get(PATHS[number % 4])
        if number % 20 == 0:
            with contextlib.suppress(httpx.TransportError), client.stream("GET", "/live/events"):
                pass
        if number % (DAY_REQUESTS // 4) == DAY_REQUESTS // 4 - 1:
            at.append(_resident_mb(running))
    print("resident memory over a day's requests, MB: " + ", ".join(f"{mb:.0f}" for mb in at))


def _resident_mb(running: Running) -> float:
    pages = int(Path(f"/proc/{running.program.pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def frames(running: Running) -> None:
    """Late frames without load, with it, and without again."""
    for words, loaded in (("calm", False), ("flood", True), ("calm", False), ("flood", True)):
        shown, late = _exam(running, loaded)
        print(f"{words}: {late} of {shown} frames late ({late / shown:.3%})")


def _exam(running: Running, loaded: bool) -> tuple[int, int]:
    client = running.client(timeout=30)
    text = client.get("/queue").text
    entry = text.split('class="start">')[1].split('value="')[1].split('"')[0]
    client.post("/queue/start", data={"entry": entry, "initials": "AB", "waive": "yes"})
    until(lambda: client.get("/live/state").json()["running"], "the exam")
    folder = running.data / "exams" / client.get("/live/state").json()["running"]
    until(lambda: len(journal(folder)) > 3, "its record")
    over = threading.Event()
    clients = [running.client(timeout=30) for _ in range(3 * loaded)]
    floods = [threading.Thread(target=_flood, args=(one, over)) for one in clients]
    idle = [socket.create_connection(_host(running)) for _ in range(1000 * loaded)]
    for flood in floods:
        flood.start()
    until(lambda: len(data_of(folder, "presented")) >= PRESENTATIONS, "presentations", 200)
    over.set()
    for flood in floods:
        flood.join()
    for one in idle:
        one.close()
    client.post("/live/ask", data={"do": "stop", "sure": "yes"})
    until(lambda: client.get("/live/state").json()["running"] is None, "its program's end")
    shown = data_of(folder, "presented")
    return sum(one["frames_shown"] for one in shown), sum(one["frames_late"] for one in shown)


def _host(running: Running) -> tuple[str, int]:
    name, port = running.address.removeprefix("http://").split(":")
    return name, int(port)


def _flood(client: httpx.Client, over: threading.Event) -> None:
    while not over.is_set():
        for path in PATHS:
            client.get(path)
        with contextlib.suppress(httpx.TransportError):
            client.post("/queue/csv", data={"csv": "x" * 10_000_000})


if __name__ == "__main__":
    main()
