"""How often healthy fields have a ratio as large: the whole-field test's false-alarm rate.

Ratios of simulated healthy people, one table for each procedure and pattern, lie in
`library/whole-field-1.toml`; `python -m analysis.indices.calibration [PROTOCOL...]` draws them anew
(about a minute a protocol). People are invented (`protocols.population`), ages 20 to 85 years, and
slip as people do; the reference is the bundled one. Its seeds are used for nothing else.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import msgspec
import numpy as np

from analysis.indices.ratio import log_ratios
from protocols.field import Floats, Place
from protocols.files import decode_toml, read_text, sha256_hex
from protocols.library import Protocol, bundled_protocols, load_protocol
from protocols.procedures.settings import ProcedureSettings

TABLE = Path(__file__).parents[1] / "library" / "whole-field-1.toml"
SHARES = (0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
"""Shares of healthy fields at or above each ratio of the table."""
PEOPLE = 20_000
BLOCK = 4_000
PEOPLE_SEED, EXAM_SEED = 7_301, 7_302


class Calibration(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The table of one procedure on one pattern: log ratios at each of the file's shares."""

    protocol: str
    key: str
    people: int
    log_ratios: list[float]


class CalibrationFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All tables."""

    format: int
    about: str
    shares: list[float]
    tables: list[Calibration]


def key_of(settings: ProcedureSettings, places: Sequence[Place]) -> str:
    """What a table holds for: the procedure with all its settings, and the places."""
    where = [(round(place.x_deg, 3) + 0.0, round(place.y_deg, 3) + 0.0) for place in places]
    return sha256_hex(msgspec.json.encode([settings, where]))[:16]


def p_of(log_ratio: float, protocol: Protocol) -> tuple[float, bool]:
    """Share of healthy fields with a ratio as large or larger, and whether it was simulated.

    Between the table's shares it is interpolated; it is never below the smallest of them. Without
    a table it is the bound of Markov's inequality.
    """
    table = _tables().get(key_of(protocol.settings.procedure, protocol.pattern.places))
    if table is None:
        return float(min(1.0, np.exp(-log_ratio))), False
    ends = np.array(table.log_ratios)
    if log_ratio < ends[0]:
        return 1.0, True
    return float(np.exp(np.interp(log_ratio, ends, np.log(SHARES)))), True


@cache
def _tables() -> dict[str, Calibration]:
    if not TABLE.is_file():
        return {}
    file = decode_toml(CalibrationFile, read_text(TABLE, "calibration"), TABLE.name)
    return {table.key: table for table in file.tables}


def calibrate(protocol: Protocol, people: int = PEOPLE) -> Calibration:
    """Draw a table anew."""
    ratios = np.concatenate([_block(protocol, k) for k in range(people // BLOCK)])
    ends = np.quantile(ratios, 1 - np.array(SHARES))
    return Calibration(
        protocol=protocol.settings.name,
        key=key_of(protocol.settings.procedure, protocol.pattern.places),
        people=people,
        log_ratios=[round(float(end), 4) for end in ends],
    )


def _block(protocol: Protocol, number: int) -> Floats:
    from analysis.indices.simulated import play
    from analysis.reference import load_reference
    from protocols.population.draw import draw_population

    reference = load_reference()
    people = draw_population(
        BLOCK, PEOPLE_SEED + 10_000 * number, protocol.pattern, {"healthy": 1.0}
    )
    played = play(people, protocol, reference, EXAM_SEED + 10_000 * number)
    return log_ratios(played.likelihood, protocol.pattern.places, reference.file.spread_db)


def _text(tables: Sequence[Calibration]) -> str:
    about = "Log ratios of simulated healthy fields; python -m analysis.indices.calibration."
    lines = ["format = 1", f'about = "{about}"', f"shares = {list(SHARES)}"]
    for table in tables:
        lines += ["", "[[tables]]", f'protocol = "{table.protocol}"', f'key = "{table.key}"',
                  f"people = {table.people}", f"log_ratios = {table.log_ratios}"]  # fmt: skip
    return "\n".join(lines) + "\n"


def main(names: Sequence[str]) -> None:
    """Draw the tables of protocols by name anew, all bundled ones without a name."""
    found = [calibrate(load_protocol(name)) for name in names or bundled_protocols()]
    drawn = {table.protocol for table in found}
    kept = [table for table in _tables().values() if names and table.protocol not in drawn]
    TABLE.write_text(_text(sorted([*kept, *found], key=lambda table: table.protocol)))


if __name__ == "__main__":
    main(sys.argv[1:])
