"""Who runs the pieces: this process, or several on this machine. The results are the same."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Protocol

from protocols.errors import RipplefieldError
from protocols.simulate.chunks import run_piece

AHEAD = 2
"""Pieces handed out for each worker at a time; the rest is not in memory."""
LIVES = 3
"""How often a pool of processes that lost one is begun anew."""

Make = Callable[[int], Any]
"""Makes a piece from its number."""
Do = Callable[[Any], bytes]
"""Works a piece through; a function that another process can find by its name."""


class Crew(Protocol):
    """Runs pieces by number and gives their parts as they are finished, in any order."""

    def run(
        self, numbers: list[int], make: Make, do: Do = run_piece
    ) -> Iterator[tuple[int, bytes]]:
        """Number and part of each piece."""


class Alone:
    """One piece after the other in this process."""

    def run(
        self, numbers: list[int], make: Make, do: Do = run_piece
    ) -> Iterator[tuple[int, bytes]]:
        """Number and part of each piece."""
        for number in numbers:
            yield number, do(make(number))


class Processes:
    """Several processes on this machine."""

    def __init__(self, count: int) -> None:
        self._count = count

    def run(
        self, numbers: list[int], make: Make, do: Do = run_piece
    ) -> Iterator[tuple[int, bytes]]:
        """Number and part of each piece; a lost process costs its pieces' time, nothing else."""
        left = list(numbers)
        for _ in range(LIVES):
            try:
                for number, part in self._pool(left, make, do):
                    left.remove(number)
                    yield number, part
                return
            except BrokenProcessPool:
                continue
        raise RipplefieldError(
            f"worker processes ended {LIVES} times before their work was done, perhaps for want of "
            "memory; use fewer --workers, the same command goes on"
        )

    def _pool(self, numbers: list[int], make: Make, do: Do) -> Iterator[tuple[int, bytes]]:
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(self._count, context, initializer=_quiet)
        try:
            waiting = ((number, make(number)) for number in list(numbers))
            yield from _flow(waiting, do, pool, AHEAD * self._count)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _flow(
    waiting: Iterator[tuple[int, Any]], do: Do, pool: ProcessPoolExecutor, at_once: int
) -> Iterator[tuple[int, bytes]]:
    running: dict[Future[bytes], int] = {}
    while True:
        for number, piece in waiting:
            running[pool.submit(do, piece)] = number
            if len(running) >= at_once:
                break
        if not running:
            return
        done, _ = wait(running, return_when=FIRST_COMPLETED)
        for future in done:
            yield running.pop(future), future.result()


def _quiet() -> None:
    """Leave the interrupt key to the process that hands out the work."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def cores() -> int:
    """Processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def crew_of(workers: int) -> Crew:
    """A crew of so many processes; one works in this process."""
    return Alone() if workers == 1 else Processes(workers)
