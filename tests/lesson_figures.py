"""The lessons' figures as modules."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

DOCS = Path(__file__).parents[1] / "docs"
for folder in (DOCS, DOCS / "learn" / "figures"):
    if str(folder) not in sys.path:
        sys.path.append(str(folder))

NAMES = sorted(p.stem for p in (DOCS / "learn" / "figures").glob("*.py") if p.stem != "look")


def figure(name: str) -> ModuleType:
    """The program of a figure."""
    from making.programs import load

    return load(name)
