"""Whole recorded exams for tests: a simulated participant on a virtual clock."""

from __future__ import annotations

from datetime import datetime, timezone
from pathlib import Path

from analysis.reference import load_reference
from protocols.exam import ExamState
from protocols.library import Protocol, bundled_observer, load_protocol
from protocols.observer import ObserverFile, load_observer
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam

BEGAN = datetime(2030, 1, 2, 9, 0, tzinfo=timezone.utc)


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
    model = observer
    if isinstance(observer, str):
        model = load_observer(bundled_observer(observer))
    if isinstance(protocol, str):
        protocol = load_protocol(protocol)
    return run_virtual_exam(folder, protocol, load_reference(), sitting(**how), model, BEGAN)
