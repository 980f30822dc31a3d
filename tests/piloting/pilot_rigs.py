"""A small pilot, run by the command, for the tests."""

from __future__ import annotations

from pathlib import Path

from wrong_plans import PLAN

from stimulus.cli import run


def write_plan(folder: Path, text: str = PLAN) -> Path:
    """The plan in a folder of its own."""
    folder.mkdir(exist_ok=True)
    path = folder / "plan.toml"
    path.write_text(text)
    return path


def piloted(plan: Path, out: Path, *words: str) -> Path:
    """Run it; returns the folder it filled."""
    assert run(["pilot", str(plan), "--out", str(out), *words]) == 0
    return out


def all_bytes(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its name."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}
