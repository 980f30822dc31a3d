"""Result pages as drawn: pictures take a while, so each is made once, ahead of the first look."""

from __future__ import annotations

import threading
from functools import lru_cache
from pathlib import Path

from analysis.report.page import exam_articles
from protocols.errors import RipplefieldError
from protocols.journal import JOURNAL

_ONE_AT_A_TIME = threading.Lock()


def article(folder: Path) -> str:
    """The result page's body; empty where the record does not carry one."""
    try:
        found = (folder / JOURNAL).stat()
        with _ONE_AT_A_TIME:
            return _drawn(folder, found.st_size, found.st_mtime_ns)
    except (RipplefieldError, OSError):
        return ""


@lru_cache(maxsize=32)
def _drawn(folder: Path, size: int, changed_ns: int) -> str:
    return exam_articles([folder])
