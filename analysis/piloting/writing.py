"""What a pilot leaves in its folder: result, tables, page, and the protocols that were compared."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec

from analysis.piloting.page import pilot_page
from analysis.piloting.result import PilotResult
from analysis.piloting.run import RESULT, Pilot
from analysis.piloting.tables import MEANINGS, tables_of
from analysis.plain_page.page import write_page
from protocols.write import write_whole

PAGE = "report.html"


def result_bytes(result: PilotResult) -> bytes:
    """`pilot.json`, the same for the same result."""
    return msgspec.json.format(msgspec.json.encode(result), indent=1) + b"\n"


def write_pilot(folder: Path, result: PilotResult, pilot: Pilot) -> None:
    """Write everything into the folder; the result comes last, as a sign that all is there."""
    write_whole(folder / "plan.toml", pilot.plan_text.encode())
    _write_variants(folder / "variants", pilot)
    _write_tables(folder / "tables", result)
    write_page(pilot_page(result, pilot.plan), folder / PAGE)
    write_whole(folder / RESULT, result_bytes(result))


def _write_variants(folder: Path, pilot: Pilot) -> None:
    folder.mkdir(exist_ok=True)
    for variant in pilot.variants:
        protocol = variant.protocol
        write_whole(folder / variant.file, protocol.text.encode())
        pattern = protocol.settings.pattern
        if pattern.endswith(".toml"):
            write_whole(folder / Path(pattern).name, protocol.pattern_text.encode())


def _write_tables(folder: Path, result: PilotResult) -> None:
    folder.mkdir(exist_ok=True)
    for name, text in tables_of(result).items():
        write_whole(folder / name, text.encode())
    about = {"notice": result.notice, "simulated": result.simulated, "columns": MEANINGS}
    content = json.dumps(about, indent=2, ensure_ascii=False) + "\n"
    write_whole(folder / "about.json", content.encode())
