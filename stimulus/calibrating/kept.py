"""Files beside a certificate in which a step keeps what it measured until that is in there."""

from __future__ import annotations

from pathlib import Path

KEPT = {"gamma": ("readings", "answers"), "uniformity": ("warm-up", "grid")}


def beside(out: Path, what: str) -> Path:
    """The file beside the certificate for this.

    >>> beside(Path("screen.json"), "readings").name
    'screen.json.readings.jsonl'
    """
    return out.with_name(f"{out.name}.{what}.jsonl")


def let_go(out: Path, step: str) -> None:
    """Remove what a step kept, once the certificate holds it."""
    for what in KEPT.get(step, ()):
        beside(out, what).unlink(missing_ok=True)
