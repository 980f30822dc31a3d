"""Plain data as TOML text: what this program writes and people then change by hand."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def table_text(name: str, data: Mapping[str, Any]) -> str:
    """A table, with lists of tables in it as arrays of tables below."""
    plain = {key: value for key, value in data.items() if not _is_tables(value)}
    text = f"\n[{name}]\n{keys_text(plain)}"
    for key, rows in data.items():
        if _is_tables(rows):
            text += "".join(f"\n[[{name}.{key}]]\n{keys_text(row)}" for row in rows)
    return text


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def keys_text(data: Mapping[str, Any]) -> str:
    """Keys with plain values, one a line.

    >>> keys_text({"a": 1.0, "b": ["x", True]})
    'a = 1.0\\nb = ["x", true]\\n'
    """
    return "".join(f"{key} = {_value(value)}\n" for key, value in data.items())


def _value(value: object) -> str:
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_value(part) for part in value)}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return repr(value)
