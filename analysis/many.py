"""Many exams: the folders that hold them, and the same work on each, on all processors."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from protocols.journal import JOURNAL

T = TypeVar("T")
Watch = Callable[[int, int], None]
"""Told how many exams are done, of how many."""

FEW = 48
"""Up to so many exams are done in this process: others would take longer to begin."""
_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
HANDED_OUT = 8
"""Exams a process is given at a time."""


def exams_below(folders: Sequence[Path]) -> list[Path]:
    """The folders, each one that holds no exam itself replaced by the exams right below it.

    A folder with neither stays, so that reading it says what is wrong with it.
    """
    return [exam for folder in folders for exam in _exams_of(folder)]


def _exams_of(folder: Path) -> list[Path]:
    if (folder / JOURNAL).is_file() or not folder.is_dir():
        return [folder]
    below = sorted(path.parent for path in folder.glob(f"*/{JOURNAL}"))
    return below or [folder]


def on_each(
    work: Callable[[Path], T],
    folders: Sequence[Path],
    workers: int | None = None,
    watch: Watch = lambda done, total: None,
) -> Iterator[T]:
    """What `work` gives for each folder, in order; `work` has to be importable by name.

    Raises what it raises for the first folder in order that it cannot do. `workers` is the number
    of processes, one a processor if not given, none but this one for a few folders.
    """
    count = _workers(workers, len(folders))
    if count == 1:
        yield from _watched(map(work, folders), len(folders), watch)
        return
    context = multiprocessing.get_context("spawn")
    with _one_thread_each(), ProcessPoolExecutor(count, context, initializer=_quiet) as pool:
        try:
            found = pool.map(work, folders, chunksize=HANDED_OUT)
            yield from _watched(found, len(folders), watch)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _watched(found: Iterator[T], total: int, watch: Watch) -> Iterator[T]:
    watch(0, total)
    for done, one in enumerate(found, start=1):
        watch(done, total)
        yield one


def _workers(asked: int | None, exams: int) -> int:
    if asked is not None:
        return max(1, min(asked, exams))
    return 1 if exams <= FEW else _processors()


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes begun meanwhile use one thread each for arrays: there is one a processor."""
    unset = [name for name in _THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(unset, "1"))
    try:
        yield
    finally:
        for name in unset:
            del os.environ[name]


def _quiet() -> None:
    """Leave the interrupt key to the process that hands out the work."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
