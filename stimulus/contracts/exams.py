"""Invented exams on a virtual clock, for tests that need a record: no person, no window."""

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


def record(
    folder: Path,
    observer: str | ObserverFile = "healthy",
    protocol: str | Protocol = "screen-19",
    sitting: Sitting | None = None,
) -> ExamState:
    """Run an exam into a folder; `observer` is a model or a bundled one's name.

    Raises InputError for a folder that holds something, or a protocol that is wrong.
    """
    model = observer
    if isinstance(model, str):
        model = load_observer(bundled_observer(model))
    if isinstance(protocol, str):
        protocol = load_protocol(protocol)
    return run_virtual_exam(
        folder, protocol, load_reference(), sitting or INVENTED, model, BEGAN
    )


INITIALS, HIDDEN_PATH = "QZX", "/home/qzx-lab"
INVENTED = Sitting(
    participant="P-1",
    age_years=45,
    eyes=("right",),
    seed=1,
    skip_practice=True,
    start="now",
    simulated=True,
    command=f"ripplefield run {HIDDEN_PATH}/mine.toml",
    confirmed_by=INITIALS,
)
"""A sitting whose operator and files are telling, so that a test sees where they get to."""
