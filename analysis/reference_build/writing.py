"""A reference as TOML text that `analysis.reference.load_reference` reads back to the same file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import msgspec

from analysis.reference import ReferenceFile

HEAD = """\
# Age limits from a lab's own healthy exams. Research use only, not a diagnosis.
# Level of a share of people at a place and age, in delivered contrast dB:
#   median_db + change_db_per_year * (age - middle_age_years)
#   + depth_db + its change_db_per_year * (age - middle_age_years)
#   + its change_db_per_deg * (eccentricity - middle_eccentricity_deg)
"""


def reference_toml(file: ReferenceFile) -> str:
    """The file's text, the same for the same reference."""
    data: dict[str, Any] = msgspec.to_builtins(file)
    measured = data.pop("measured", None)
    text = HEAD + _keys(data)
    return text if measured is None else text + _table("measured", measured)


def _table(name: str, data: Mapping[str, Any]) -> str:
    plain = {key: value for key, value in data.items() if not _is_tables(value)}
    text = f"\n[{name}]\n{_keys(plain)}"
    for key, rows in data.items():
        if _is_tables(rows):
            text += "".join(f"\n[[{name}.{key}]]\n{_keys(row)}" for row in rows)
    return text


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _keys(data: Mapping[str, Any]) -> str:
    return "".join(f"{key} = {_value(value)}\n" for key, value in data.items())


def _value(value: object) -> str:
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_value(part) for part in value)}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return repr(value)
