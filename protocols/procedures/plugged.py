"""Procedures of other packages: their settings in a protocol file, and how they are built."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any, cast, get_args

import msgspec

from protocols.errors import InputError
from protocols.field import Place
from protocols.files import convert
from protocols.plugins import PlugIn, blamed, find, names
from protocols.procedures.interface import Procedure
from protocols.procedures.settings import ProcedureSettings

STRICT = {"forbid_unknown_fields": True}
BUILT_IN = tuple(str(kind.__struct_config__.tag) for kind in get_args(ProcedureSettings))
"""Names of Ripplefield's own procedures."""


@dataclass(frozen=True)
class ProcedurePlugIn:
    """What an entry point of group `ripplefield.procedures` names.

    `settings` is the strict type of the protocol's `procedure` table: a frozen msgspec.Struct with
    `forbid_unknown_fields=True`, `tag_field="kind"`, the entry point's name as `tag`, and a
    property `answers_per_place`, fewest and most presentations at one place. `build` makes the
    procedure from such settings and the pattern's places; `in_words` tells its rule in a sentence.
    """

    settings: type[msgspec.Struct]
    build: Callable[[Any, Sequence[Place]], Procedure[Any]]
    in_words: Callable[[Any], str]


def plug_in_of(settings: object) -> PlugIn | None:
    """The plug-in that settings belong to; None for Ripplefield's own."""
    kind = str(type(settings).__struct_config__.tag) if isinstance(settings, msgspec.Struct) else ""
    return None if kind in BUILT_IN else find("procedure", kind, BUILT_IN)


def load(plugin: PlugIn) -> ProcedurePlugIn:
    """The plug-in, checked; raises InputError for one that is not what it should be."""
    found = plugin.load()
    if not isinstance(found, ProcedurePlugIn):
        raise plugin.refused("a ProcedurePlugIn", f"It is of type {type(found).__name__}.")
    config = getattr(found.settings, "__struct_config__", None)
    wanted = {"tag_field": "kind", "tag": plugin.name, "frozen": True} | STRICT
    for key, value in wanted.items():
        if getattr(config, key, None) != value:
            raise plugin.refused(
                f"settings that are a msgspec.Struct with {key}={value!r}",
                f"They have {getattr(config, key, None)!r}.",
            )
    if not hasattr(found.settings, "answers_per_place"):
        raise plugin.refused("settings with a property answers_per_place", "They have none.")
    return found


def plugged_settings(data: object, source: str) -> Any | None:
    """Settings of a protocol's `procedure` table if a plug-in brings its kind, else None.

    Raises InputError for a kind that nobody brings, for settings out of order, with file, key,
    value and range as for any other, and for a plug-in that is refused.
    """
    table = data.get("procedure") if isinstance(data, Mapping) else None
    kind = table.get("kind") if isinstance(table, Mapping) else None
    if not isinstance(kind, str):
        return None
    plugin = find("procedure", kind, BUILT_IN)
    if plugin is not None:
        return _decoded(load(plugin).settings, table, source)
    if kind not in BUILT_IN:
        known = " or ".join([*BUILT_IN, *names("procedure", BUILT_IN)])
        todo = "Change it, or install the package that brings it."
        raise InputError(f"{source}, procedure.kind", kind, known, todo)
    return None


def _decoded(kind: type[msgspec.Struct], table: object, source: str) -> Any:
    """Decoded inside a table of its name, so that errors say `procedure.key`."""
    whole = msgspec.defstruct("Whole", [("procedure", kind)], frozen=True)
    found: Any = convert(whole, {"procedure": table}, source)
    return found.procedure


def _owner(settings: object) -> PlugIn:
    plugin = plug_in_of(settings)
    if plugin is None:
        raise TypeError(f"no procedure for {type(settings).__name__}")
    return plugin


def build_plugged(settings: object, places: Sequence[Place]) -> Procedure[Any]:
    """A plug-in's procedure; what it raises while it runs names the plug-in."""
    plugin = _owner(settings)
    with blamed(plugin):
        return cast(Procedure[Any], _Blamed(plugin, load(plugin).build(settings, places)))


def plugged_in_words(settings: object) -> str:
    """A plug-in's rule in one sentence, and whose it is."""
    plugin = _owner(settings)
    with blamed(plugin):
        return f"{load(plugin).in_words(settings)} (plug-in {plugin.value})"


class _Blamed:
    """A plug-in's procedure whose failures are clear errors."""

    def __init__(self, plugin: PlugIn, rule: Procedure[Any]) -> None:
        for name in METHODS:
            setattr(self, name, _watched(plugin, getattr(rule, name)))


METHODS = (
    "start", "finished", "propose", "update", "estimate", "left", "heed", "interval_db",
    "field_belief",
)  # fmt: skip


def _watched(plugin: PlugIn, method: Callable[..., Any]) -> Callable[..., Any]:
    @wraps(method)
    def call(*given: Any) -> Any:
        with blamed(plugin):
            return method(*given)

    return call
