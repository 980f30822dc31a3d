"""Telling the operator how an exam goes: a progress bar in the terminal, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import TracebackType

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)

from protocols.exam import ExamState
from protocols.plan import ExamPlan


class QuietLookout:
    """Says nothing."""

    def step(self, state: ExamState) -> None:
        """Nothing to do."""

    def say(self, text: str) -> None:
        """Nothing to do."""


class TerminalLookout:
    """A bar of places done, with sentences for the operator above it; use as a context manager."""

    def __init__(self, plan: ExamPlan) -> None:
        self._plan = plan
        self._progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("places"),
            TimeElapsedColumn(),
            console=Console(stderr=True),
        )
        total = len(plan.eyes) * len(plan.protocol.pattern.places)
        self._task = self._progress.add_task("getting ready", total=total)

    def __enter__(self) -> TerminalLookout:
        self._progress.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.end()

    def end(self) -> None:
        """Leave the terminal as it was; twice is fine."""
        self._progress.stop()

    def step(self, state: ExamState) -> None:
        """Move the bar to the number of places that are done."""
        done = sum(int(self._plan.procedure.finished(eye.procedure).sum()) for eye in state.eyes)
        self._progress.update(
            self._task, completed=done, description=f"{state.eye.eye} eye, {state.phase}"
        )

    def say(self, text: str) -> None:
        """Print a sentence above the bar."""
        self._progress.console.print(text, markup=False, highlight=False, soft_wrap=True)


@contextmanager
def exams_bar(
    total: int, of: str = "simulated exams"
) -> Iterator[Callable[[int, int], None]]:
    """A bar of exams, or of what `of` says; gives what moves it: how many are done, of how many."""
    columns = (
        TextColumn(of),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=total)
        yield lambda done, total: bar.update(task, completed=done, total=total)
