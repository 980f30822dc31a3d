"""Strict reading of TOML and JSON files: one clear error for every kind of mistake.

An unknown key, a missing key, a wrong type, a value out of range, a unit in the wrong place: the
error names the file, the key, what was given, what is allowed and what to do next.
"""

from __future__ import annotations

import difflib
import hashlib
import re
import sys
from pathlib import Path
from typing import Any, TypeVar, cast

import msgspec

from protocols.errors import InputError
from protocols.migrate import up_to_date

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover
    import tomli as tomllib

T = TypeVar("T")

UNREADABLE_JSON = (msgspec.DecodeError, UnicodeError, RecursionError)
"""What msgspec raises for text that is not the JSON it should be."""

_PATH_SUFFIX = re.compile(r" - at `(?P<path>[^`]*)`$")
_UNKNOWN = re.compile(r"Object contains unknown field `(?P<key>.*)`")
_MISSING = re.compile(r"Object missing required field `(?P<key>.*)`")
_BETWEEN = "\x1f"
_UNITS = {
    "s": "seconds", "deg": "degrees of visual angle", "hz": "hertz", "db": "contrast dB",
    "cpd": "cycles per degree", "cm": "centimetres", "years": "years", "rate": "a share, 0 to 1",
}  # fmt: skip


def read_text(path: Path, what: str) -> str:
    """Text of a file; raises InputError that names `what` if it cannot be read as UTF-8 text."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise InputError(what, str(path), "a file that exists", "Check the path.") from None
    except IsADirectoryError:
        raise InputError(what, str(path), "a file, not a folder", "Name the file.") from None
    except UnicodeDecodeError:
        raise InputError(
            what, str(path), "UTF-8 text", "Save the file as UTF-8 and try again."
        ) from None
    except OSError as error:
        raise InputError(
            what, str(path), "a readable file", f"The system says: {error.strerror}."
        ) from None


def decode_toml(kind: type[T], text: str, source: str, form: str | None = None) -> T:
    """Decode TOML text into a msgspec type; `source` names the file in errors.

    `form` names the file's format in `protocols.migrate`: older files are brought up to date.
    Raises InputError for text that is no TOML, with the line, and for unknown keys, wrong types and
    values out of range, with file and key.
    """
    return convert(kind, toml_data(text, source, form), source)


def toml_data(text: str, source: str, form: str | None = None) -> dict[str, Any]:
    """TOML text as plain data, brought up to date; raises InputError for what is not TOML."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise _not_toml(text, source, error) from None
    return cast(dict[str, Any], up_to_date(form, data, source)) if form else data


def decode_json(
    kind: type[T], text: str | bytes, source: str, form: str | None = None
) -> T:
    """Decode JSON text into a msgspec type; `source` names the file in errors.

    `form` names the file's format in `protocols.migrate`: older files are brought up to date.
    Raises InputError for text that is no JSON, and for unknown keys, wrong types and values out of
    range, with file and key.
    """
    try:
        data = msgspec.json.decode(text)
    except UNREADABLE_JSON as error:
        raise InputError(source, str(error), "JSON", "Mend the file or make it anew.") from None
    return convert(kind, up_to_date(form, data, source) if form else data, source)


def convert(kind: type[T], data: object, source: str) -> T:
    """Convert plain data into a msgspec type; raises InputError with file, key, value and range."""
    try:
        return msgspec.convert(data, kind)
    except msgspec.ValidationError as error:
        raise _explained(kind, data, str(error), source) from None


def schema_of(kind: type, title: str) -> dict[str, Any]:
    """JSON Schema (2020-12) of a file's type, with the dialect and a title in front."""
    return {**schema_head(title), **msgspec.json.schema(kind)}


def schema_head(title: str) -> dict[str, str]:
    """How every published schema begins."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title}


def sha256_hex(data: bytes) -> str:
    """SHA-256 of bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def _not_toml(text: str, source: str, error: Exception) -> InputError:
    """The parser's own words name a line, save for these three."""
    if text.startswith("\ufeff"):
        given, todo = "a byte order mark before the first line", "Save it as UTF-8 without BOM."
    elif isinstance(error, RecursionError):
        given, todo = "lists or tables nested too deeply", "Take them apart."
    elif not isinstance(error, tomllib.TOMLDecodeError):
        given, todo = "a whole number with thousands of digits", "Write a shorter one."
    else:
        given, todo = str(error), "Mend the line it names."
    return InputError(source, given, "TOML 1.0", todo)


def _explained(kind: type, data: object, message: str, source: str) -> InputError:
    where = _PATH_SUFFIX.search(message)
    path = where["path"].lstrip("$").lstrip(".") if where else ""
    reason = _PATH_SUFFIX.sub("", message)
    unknown, missing = _UNKNOWN.fullmatch(reason), _MISSING.fullmatch(reason)
    if unknown:
        return _unknown_key(kind, data, path, unknown["key"], source)
    if missing:
        key = _joined(path, missing["key"])
        return InputError(
            f"{source}, {key}", "", _allowed(kind, data, key, "a value"), f"Add {key}."
        )
    if reason.count(_BETWEEN) == 3:
        key, value, allowed, todo = reason.split(_BETWEEN)
        return InputError(f"{source}, {_joined(path, key)}", value, allowed, todo)
    given = _value_at(data, path)
    return InputError(
        f"{source}, {path or 'file'}",
        given,
        _allowed(kind, data, path, reason.replace("`", "")),
        _unit_hint(path, given),
    )


def cross_check_error(key: str, value: float, allowed: str, todo: str) -> ValueError:
    """The error a type raises when two of its keys disagree; `convert` turns it into words.

    `value` is in the unit of its key.
    """
    return ValueError(_BETWEEN.join([key, f"{value:g}", allowed, todo]))


def _unknown_key(kind: type, data: object, path: str, key: str, source: str) -> InputError:
    known = sorted(_keys_at(kind, data, path))
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    hint = f"Did you mean {near[0]}?" if near else "Remove it."
    full = _joined(path, key)
    return InputError(f"{source}, {full}", "an unknown key", ", ".join(known), hint)


def _joined(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


def _value_at(data: object, path: str) -> object:
    value: Any = data
    for part in re.findall(r"[^.\[\]]+", path):
        try:
            value = value[int(part)] if isinstance(value, list) else value[part]
        except (KeyError, IndexError, ValueError, TypeError):
            return "..."
    return value


def _unit_hint(path: str, given: object) -> str:
    unit = _UNITS.get(re.sub(r"(\[[^\]]*\])+$", "", path).rsplit("_", 1)[-1])
    if unit and isinstance(given, str):
        return f"Write a bare number: the unit is in the key's name ({unit})."
    return f"Change it; the unit is {unit}." if unit else "Change it."


def _type_at(kind: type, data: object, path: str) -> msgspec.inspect.Type | None:
    """The type at a path; among several tables the one that the data's tag names."""
    found: msgspec.inspect.Type | None = msgspec.inspect.type_info(kind)
    walked = ""
    for part in re.findall(r"[^.\[\]]+", path):
        found = _step(_by_tag(found, _value_at(data, walked)), part)
        walked = _joined(walked, part)
    return _by_tag(found, _value_at(data, path))


def _by_tag(found: msgspec.inspect.Type | None, value: object) -> msgspec.inspect.Type | None:
    if isinstance(found, msgspec.inspect.UnionType) and isinstance(value, dict):
        for option in _structs(found):
            if option.tag_field and value.get(option.tag_field) == option.tag:
                return option
    return found


def _step(found: msgspec.inspect.Type | None, part: str) -> msgspec.inspect.Type | None:
    if isinstance(found, msgspec.inspect.UnionType):
        inner = [_step(option, part) for option in found.types]
        return next((option for option in inner if option is not None), None)
    if isinstance(found, msgspec.inspect.StructType):
        return next((f.type for f in found.fields if f.encode_name == part), None)
    if isinstance(found, msgspec.inspect.DictType):
        return found.value_type
    if isinstance(found, msgspec.inspect.TupleType) and part.isdigit():
        return found.item_types[int(part)]
    return getattr(found, "item_type", None)


def _keys_at(kind: type, data: object, path: str) -> set[str]:
    found = _structs(_type_at(kind, data, path))
    return {f.encode_name for struct in found for f in struct.fields}


def _structs(found: msgspec.inspect.Type | None) -> list[msgspec.inspect.StructType]:
    options = found.types if isinstance(found, msgspec.inspect.UnionType) else (found,)
    return [option for option in options if isinstance(option, msgspec.inspect.StructType)]


def _tags_at(kind: type, data: object, path: str) -> list[str]:
    parent, _, key = path.rpartition(".")
    return [str(s.tag) for s in _structs(_type_at(kind, data, parent)) if s.tag_field == key]


def _allowed(kind: type, data: object, path: str, otherwise: str) -> str:
    tags = _tags_at(kind, data, path)
    if tags:
        return " or ".join(tags)
    found = _only_type(_type_at(kind, data, path))
    if isinstance(found, (msgspec.inspect.FloatType, msgspec.inspect.IntType)):
        number = "a whole number" if isinstance(found, msgspec.inspect.IntType) else "a number"
        return f"{number} {_bounds(found)}".strip()
    if isinstance(found, msgspec.inspect.LiteralType):
        return " or ".join(str(v) for v in found.values)
    if isinstance(found, msgspec.inspect.StrType):
        return "text" if not found.min_length else "text that is not empty"
    if isinstance(found, msgspec.inspect.BoolType):
        return "true or false"
    if isinstance(found, (msgspec.inspect.ListType, msgspec.inspect.VarTupleType)):
        return _lengths(found)
    return otherwise


def _lengths(found: msgspec.inspect.ListType | msgspec.inspect.VarTupleType) -> str:
    least, most = found.min_length, found.max_length
    if most is not None:
        return f"a list of {least or 0} to {most}"
    return f"a list of {least} or more" if least else "a list"


def _only_type(found: msgspec.inspect.Type | None) -> msgspec.inspect.Type | None:
    """The one type of a key that may also be left out."""
    if isinstance(found, msgspec.inspect.UnionType):
        some = [t for t in found.types if not isinstance(t, msgspec.inspect.NoneType)]
        return some[0] if len(some) == 1 else found
    return found


def _bounds(found: msgspec.inspect.FloatType | msgspec.inspect.IntType) -> str:
    low, high = (found.ge, ""), (found.le, "")
    if found.gt is not None:
        low = (found.gt, "above ")
    if found.lt is not None:
        high = (found.lt, "below ")
    parts = [f"{word}{value:.12g}" for value, word in (low, high) if value is not None]
    return " to ".join(parts) if len(parts) == 2 else (f"from {parts[0]}" if parts else "")
