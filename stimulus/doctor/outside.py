"""Programs of their own for what could crash or hang, and what they say."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

PATIENCE_S = 60.0


class Failed(Exception):
    """The program ended badly; the text says how, in one line."""


def ask(module: str, *words: str, patience_s: float = PATIENCE_S) -> dict[str, Any]:
    """The last line, as JSON, that `python -m module` printed; raises Failed."""
    command = [sys.executable, "-m", module, *words]
    try:
        ran = subprocess.run(command, capture_output=True, text=True, timeout=patience_s)
    except subprocess.TimeoutExpired:
        raise Failed(f"it did not answer within {patience_s:.0f} s") from None
    lines = ran.stdout.strip().splitlines()
    if ran.returncode == 0 and lines:
        try:
            found: dict[str, Any] = json.loads(lines[-1])
        except ValueError:
            raise Failed(f"it said {lines[-1][:100]}") from None
        return found
    raise Failed(_last_words(ran.returncode, ran.stderr))


def _last_words(code: int, errors: str) -> str:
    if code < 0:
        return f"it was killed by signal {-code}"
    lines = errors.strip().splitlines()
    return lines[-1][:300] if lines else f"it ended with code {code}"
