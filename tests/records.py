"""Whole recorded exams for tests: a simulated participant on a virtual clock."""

from __future__ import annotations

from pathlib import Path

from protocols.exam import ExamState
from protocols.library import Protocol
from protocols.observer import ObserverFile
from stimulus.contracts import exams
from stimulus.contracts.exams import BEGAN
from stimulus.opening import Sitting

__all__ = ["BEGAN", "record", "sitting"]


def sitting(seed=1, eyes=("right",), age_years=45, practice=False) -> Sitting:
    """A simulated sitting."""
    return Sitting("P-1", age_years, tuple(eyes), seed, not practice, "now", True, "test", "nobody")


def record(
    folder: Path,
    observer: str | ObserverFile = "healthy",
    protocol: str | Protocol = "screen-19",
    **how,
) -> ExamState:
    """Run an exam into a folder; `observer` is a model or a bundled one's name."""
    return exams.record(folder, observer, protocol, sitting(**how))
