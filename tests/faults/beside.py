"""Tests that wait more than they work run side by side, each on a display of its own."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager

AT_ONCE = 3
Bodies = Mapping[str, Callable[[], None]]


class Beside:
    """Bodies of tests under way by name; `end_of` waits for one and raises what it raised."""

    def __init__(self, bodies: Bodies, pool: ThreadPoolExecutor) -> None:
        self._under_way: dict[str, Future[None]] = {
            name: pool.submit(body) for name, body in bodies.items()
        }

    def end_of(self, name: str) -> None:
        self._under_way[name].result()


@contextmanager
def beside(bodies: Bodies) -> Iterator[Beside]:
    """All bodies, a few at a time; each is finished at the end."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield Beside(bodies, pool)


@contextmanager
def own_display() -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A virtual display of one test alone, to type on or to be killed."""
    read_end, write_end = os.pipe()
    words = ["Xvfb", "-screen", "0", "800x600x24", "-nolisten", "tcp", "-noreset"]
    server = subprocess.Popen(
        [*words, "-displayfd", str(write_end)],
        pass_fds=[write_end],
        stderr=subprocess.DEVNULL,
    )
    os.close(write_end)
    with open(read_end, encoding="utf-8") as answer:
        name = f":{answer.readline().strip()}"
    try:
        yield name, server
    finally:
        server.kill()
        server.wait()
