"""Programs beside the lessons, as modules. Loads nothing that makes pages: tests use it too."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

FOLDER = Path(__file__).parents[1] / "learn" / "figures"
sys.path.append(str(FOLDER))


def load(name: str) -> ModuleType:
    """The figure's program as a module."""
    path = FOLDER / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"figure_{name}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
