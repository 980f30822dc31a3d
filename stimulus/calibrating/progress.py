"""A bar in the terminal while a display is measured."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from stimulus.calibrating.bench import Progress as Tell


@contextmanager
def measuring(steps: Sequence[str]) -> Iterator[Tell]:
    """A bar for so many steps; yields what a step tells its progress to."""
    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:3.0f} %"),
        TimeElapsedColumn(),
        console=console,
        disable=not console.is_terminal,
    )
    task = bar.add_task("getting ready", total=len(steps))
    begun: list[str] = []

    def tell(what: str, done: int, of: int) -> None:
        step = what.split(",")[0].split(" ")[0]
        if step not in begun:
            begun.append(step)
        bar.update(task, description=what, completed=len(begun) - 1 + done / max(of, 1))

    with bar:
        yield tell
        bar.update(task, description="done", completed=len(steps))


@contextmanager
def measuring_with_prompts() -> Iterator[Tell]:
    """A line for each tenth of a step instead of a bar, which would draw over what is typed."""
    said: set[tuple[str, int]] = set()

    def tell(what: str, done: int, of: int) -> None:
        tenth = (what.split(",")[0], 10 * done // max(of, 1))
        if tenth not in said:
            said.add(tenth)
            print(f"{what} ({done} of {of})", file=sys.stderr, flush=True)

    yield tell
