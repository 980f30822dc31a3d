"""Variants: each protocol of a plan at each point of its grid, as a protocol that can be run."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from analysis.piloting.plan import Contender, GridValue, PlanFile
from protocols.errors import InputError
from protocols.files import toml_data
from protocols.library import Protocol, bundled_protocols, load_protocol, parse_protocol
from protocols.toml_text import keys_text, table_text

MOST = 64
"""Variants of one plan: more cannot be read on a page."""
FIXED = ("format", "name", "about")


@dataclass(frozen=True)
class Variant:
    """A protocol as it is to be compared, the protocol it was made from, and what was changed."""

    label: str
    of: str
    changes: Mapping[str, GridValue]
    protocol: Protocol

    @property
    def file(self) -> str:
        """A name for its file.

        >>> Variant("bayes-19 end_sd_db=2.0", "bayes-19", {}, load_protocol("bayes-19")).file
        'bayes-19-end_sd_db-2.0.toml'
        """
        signed = re.sub(r"=-(?=\d)", "=minus", self.label)
        return re.sub(r"[^\w.]+", "-", signed).strip("-") + ".toml"


def variants_of(plan: PlanFile, source: str, folder: Path) -> tuple[Variant, ...]:
    """All variants of a plan, in its order; paths are taken from the plan's folder.

    Raises InputError for a protocol that is not there, a value it cannot take, or two alike.
    """
    found = [
        variant
        for number, contender in enumerate(plan.protocols)
        for variant in _of(contender, f"{source}, protocols[{number}]", folder)
    ]
    _refuse_many(found, source)
    _refuse_twins(found, source)
    return tuple(found)


def _of(contender: Contender, where: str, folder: Path) -> list[Variant]:
    base, home = _loaded(contender.protocol, where, folder)
    for key, values in contender.grid.items():
        if not values:
            raise InputError(f"{where}.grid, {key}", "no value", "one or more", "List values.")
        if key in FIXED:
            raise InputError(
                f"{where}.grid", key, "a key that changes how an exam is run", "Leave it out."
            )
    points = product(*contender.grid.values())
    changes = [dict(zip(contender.grid, point, strict=True)) for point in points]
    return [_changed(base, change, where, home) for change in changes]


def _loaded(name: str, where: str, folder: Path) -> tuple[Protocol, Path]:
    beside = folder / name
    if name in bundled_protocols():
        return load_protocol(name), folder
    if not beside.is_file():
        raise InputError(
            f"{where}.protocol", name,
            f"{', '.join(bundled_protocols())}, or the path of a .toml file",
            "Check the spelling or the path.",
        )  # fmt: skip
    return load_protocol(str(beside)), beside.parent


def _changed(base: Protocol, changes: Mapping[str, GridValue], where: str, folder: Path) -> Variant:
    if not changes:
        return Variant(base.name, base.name, {}, base)
    label = f"{base.name} {' '.join(_said(key, value) for key, value in changes.items())}"
    data = toml_data(base.text, base.name)
    for key, value in changes.items():
        _put(data, key, value, where)
    data["name"] = label
    text = protocol_toml(data)
    pattern_text = None if "pattern" in changes else base.pattern_text
    protocol = parse_protocol(text, f"{where}.grid ({label})", folder, pattern_text)
    return Variant(label, base.name, changes, protocol)


def _said(key: str, value: GridValue) -> str:
    return f"{key.rpartition('.')[2]}={value}"


def _put(data: dict[str, Any], key: str, value: GridValue, where: str) -> None:
    table, _, last = key.rpartition(".")
    into = data.setdefault(table, {}) if table else data
    if "." in table or not last or not isinstance(into, dict):
        raise InputError(
            f"{where}.grid", key, "a key of the protocol file, such as procedure.most",
            "See: ripplefield schema protocol",
        )  # fmt: skip
    into[last] = value


def protocol_toml(data: Mapping[str, Any]) -> str:
    """A protocol's plain data as TOML."""
    tables = {key: value for key, value in data.items() if isinstance(value, dict)}
    plain = {key: value for key, value in data.items() if key not in tables}
    return keys_text(plain) + "".join(table_text(name, table) for name, table in tables.items())


def _refuse_many(found: list[Variant], source: str) -> None:
    if len(found) > MOST:
        raise InputError(
            f"{source}, protocols", f"{len(found)} variants", f"up to {MOST} in all",
            "Try fewer values.",
        )  # fmt: skip


def _refuse_twins(found: list[Variant], source: str) -> None:
    labels = [variant.label for variant in found]
    for label in labels:
        if labels.count(label) > 1:
            raise InputError(
                f"{source}, protocols", f"{label} twice", "each protocol and each point once",
                "Leave one of them out, or rename one.",
            )  # fmt: skip
    by_file: dict[str, str] = {}
    for variant in found:
        other = by_file.setdefault(variant.file, variant.label)
        if other != variant.label:
            raise InputError(
                f"{source}, protocols", f"{other} and {variant.label}",
                f"names that differ in letters or digits; both would be written to {variant.file}",
                "Rename one, or try other values.",
            )  # fmt: skip
