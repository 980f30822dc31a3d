"""File formats as pages, from the JSON Schemas that ship with the program."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from making.words import cell, code, plain, table

SCHEMAS = Path(__file__).parents[2] / "stimulus" / "schemas"
Schema = dict[str, Any]
_BOUNDS = {
    "minimum": "from {}", "maximum": "up to {}", "exclusiveMinimum": "above {}",
    "exclusiveMaximum": "below {}", "minLength": "at least {} characters",
    "minItems": "at least {} of them", "maxItems": "at most {} of them", "pattern": "like {}",
}  # fmt: skip


def pages() -> Iterator[tuple[str, str]]:
    """Name and text of a page for each schema."""
    for path in sorted(SCHEMAS.glob("*.json")):
        yield path.stem, _page(path.stem, json.loads(path.read_text()))


def _page(name: str, schema: Schema) -> str:
    parts = [f"# {schema['title']}", f"Made from `stimulus/schemas/{name}.json`."]
    if "oneOf" in schema:
        parts += [_kinds(schema), _fields(schema)]
    first = schema.get("$ref", "").rsplit("/", 1)[-1]
    for title, part in schema.get("$defs", {}).items():
        note = " (the whole file)" if title == first else ""
        parts.append(f"({name}-{title.lower()})=\n## {title}{note}")
        parts.append(plain(part.get("description", "")))
        parts.append(_fields(part, name) if part.get("properties") else _kind(part, name))
    return "\n\n".join(parts) + "\n"


def _kinds(schema: Schema) -> str:
    """Which data belongs to which kind of line."""
    rows = []
    for line in schema["oneOf"]:
        of = line["properties"]
        title = of["data"]["$ref"].rsplit("/", 1)[-1]
        about = schema["$defs"][title].get("description", "").split("\n\n")[0]
        rows.append([code(of["kind"]["const"]), _link("journal-1", title), cell(about)])
    return table(["kind", "data", "what it says"], rows)


def _fields(part: Schema, name: str = "") -> str:
    needed = set(part.get("required", []))
    rows = [
        [code(key), _kind(of, name), "must be there" if key in needed else _default(of)]
        for key, of in part.get("properties", {}).items()
    ]
    return table(["key", "holds", "without it"], rows)


def _link(name: str, title: str) -> str:
    return f"[{title}](#{name}-{title.lower()})"


def _kind(of: Schema, name: str) -> str:
    if "$ref" in of:
        return _link(name, of["$ref"].rsplit("/", 1)[-1])
    if "anyOf" in of:
        return " or ".join(_kind(one, name) for one in of["anyOf"])
    if "enum" in of:
        return " or ".join(code(value) for value in of["enum"])
    return _plain_kind(of, name) + _bounds(of)


def _plain_kind(of: Schema, name: str) -> str:
    kind = of.get("type", "anything")
    if kind == "array":
        inner = of.get("items") or {}
        items = of.get("prefixItems")
        if items:
            return "list of " + ", ".join(_kind(one, name) for one in items)
        return f"list of {_kind(inner, name)}" if inner else "list"
    if kind == "object" and isinstance(of.get("additionalProperties"), dict):
        return f"table of {_kind(of['additionalProperties'], name)}"
    return {"object": "table", "string": "text", "boolean": "true or false"}.get(kind, str(kind))


def _bounds(of: Schema) -> str:
    said = [words.format(code(of[key])) for key, words in _BOUNDS.items() if key in of]
    return f" ({', '.join(said)})" if said else ""


def _default(of: Schema) -> str:
    if "default" not in of:
        return " "
    value = of["default"]
    return "as below" if isinstance(value, dict) and value else code(json.dumps(value))
