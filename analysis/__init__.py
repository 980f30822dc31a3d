"""What the answers mean: reference limits, grades, reliability, figures, reports.

Reads journals, never a window or a button; works on a machine with no display. Imports only
`protocols`. `analysis.load(path)` gives exams as a pandas data frame, see `analysis.frame`.
"""

from __future__ import annotations

import importlib
from typing import Any


def __getattr__(name: str) -> Any:
    """`analysis.load` without a further import; it is brought in when it is used."""
    if name != "load":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return importlib.import_module("analysis.load")
