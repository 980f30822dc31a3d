"""Reading result.json back, of any format there was."""

from __future__ import annotations

from pathlib import Path

from analysis.result import Result
from protocols.files import decode_json, read_text

RESULT = "result.json"


def read_result(folder: Path) -> Result:
    """The result in an exam's folder; raises InputError for none, a broken or a newer one."""
    source = f"{folder.name}/{RESULT}"
    return decode_json(Result, read_text(folder / RESULT, "result"), source, "result")
