"""One invented person's visits under a small threshold protocol, recorded in folders."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from pathlib import Path

from analysis.reference import load_reference
from protocols.library import Protocol, parse_protocol
from protocols.observer import DiscLoss, EyeModel, ObserverFile, Pressing, Seeing
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam

BEGAN = datetime(2030, 1, 2, 9, 0, tzinfo=timezone.utc)
PLACES = (
    "[[0.0, 0.0], [9.5, 4.0], [-9.5, 4.0], [0.0, 12.0], [0.0, -12.0], [18.0, 9.0], [-18.0, 9.0],"
    " [-9.5, -6.0]]"
)
LOSS = DiscLoss(9.5, 4.0, 3.0, 14.0)
"""On the left eye's mirror image of the right eye's place 2, which has number 2 as well."""


def protocol(name: str = "small", places: str = PLACES) -> Protocol:
    text = (
        f'format = 1\nname = "{name}"\nabout = "For a test."\npattern = "small.toml"\n'
        '[procedure]\nkind = "bayes"\n'
        "[catch_trials]\nblind_spot = 1\nblank = 1\nfull_contrast = 1\n"
    )
    pattern = f'format = 1\nname = "small"\nplaces_deg = {places}\n'
    return parse_protocol(text, f"{name}.toml", Path(), pattern)


def visit(
    folder: Path, seed: int, shift_db: float = 0.0, days: int = 0, eyes: Sequence[str] = ("right",),
    code: str = "P-7", left_loss: bool = False, left_shift_db: float = 0.0,
    under: Protocol | None = None,
) -> Path:  # fmt: skip
    """One exam; the hill is 25 dB at the centre plus the shift."""
    model = ObserverFile(
        format=1, about="invented", age_years=60, right=EyeModel(25.0 + shift_db),
        left=EyeModel(25.0 + shift_db + left_shift_db, 0.15, [LOSS] if left_loss else []),
        seeing=Seeing(1.5, 0.0), pressing=Pressing(0.0),
    )  # fmt: skip
    sitting = Sitting(code, 60, tuple(eyes), seed, True, "now", True, "test", "nobody")
    run_virtual_exam(
        folder, under or protocol(), load_reference(), sitting, model, BEGAN + timedelta(days=days)
    )
    return folder


def series(folder: Path, shifts_db: Sequence[float], days: int = 180, seed: int = 50) -> list[Path]:
    """Visits so many days apart with these shifts."""
    return [
        visit(folder / f"visit-{k}", seed + k, shift, k * days)
        for k, shift in enumerate(shifts_db)
    ]
