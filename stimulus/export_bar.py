"""How far an export is: a bar in the terminal, nothing where output goes to a file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn


@contextmanager
def export_bar(total: int) -> Iterator[Callable[[int, int], None]]:
    """Gives what moves the bar: exams done, of how many."""
    console = Console(stderr=True)
    columns = (
        TextColumn("exams written"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=total)
        yield lambda done, total: bar.update(task, completed=done, total=total)
