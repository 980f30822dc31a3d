"""Plug-ins: what other packages bring under Python entry points.

A package names its procedures, buttons, photometers and exports in the groups of `GROUPS`. Looking
them up reads the packages' own lists and loads nothing; a plug-in is loaded when its name is used.
One that cannot be loaded, or whose name is taken, is refused then, with its package and entry
point; commands that do not use it never notice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib import metadata
from typing import Any, Literal, get_args

from protocols.errors import InputError, RipplefieldError

Kind = Literal["procedure", "button", "photometer", "export"]
KINDS: tuple[Kind, ...] = get_args(Kind)
GROUPS: dict[str, Kind] = {f"ripplefield.{kind}s": kind for kind in KINDS}
MARK = "plug-in "
"""What a plug-in's entry among the versions of a record begins with."""


@dataclass(frozen=True)
class PlugIn:
    """One plug-in as its package lists it; nothing of it is loaded yet."""

    kind: Kind
    name: str
    package: str
    version: str
    target: str

    @property
    def origin(self) -> str:
        """Package, version and entry point, as errors and lists name them."""
        return f"entry point {self.target} of {self.package} {self.version}"

    @property
    def key(self) -> str:
        """Its name among the versions of a record."""
        return f"{MARK}{self.kind} {self.name}"

    @property
    def value(self) -> str:
        """Its package and version among the versions of a record."""
        return f"{self.package} {self.version}"

    def load(self) -> object:
        """What the entry point names; raises InputError if the package is broken."""
        with blamed(self):
            return metadata.EntryPoint(self.name, self.target, f"ripplefield.{self.kind}s").load()

    def refused(self, allowed: str, said: str) -> InputError:
        """The error about this plug-in: what it should be, and what it is."""
        todo = f"{said} Ask its author, or remove it: pip uninstall {self.package}"
        return InputError(f"{self.kind} {self.name}", self.origin, allowed, todo)


@contextmanager
def blamed(plugin: PlugIn) -> Iterator[None]:
    """Inside, whatever a plug-in raises becomes one InputError that names it; ours pass as is."""
    try:
        yield
    except RipplefieldError:
        raise
    except (Exception, SystemExit) as error:
        said = " ".join(f"{type(error).__name__}: {error}".split())
        raise plugin.refused("a plug-in that works", f"It says: {said}.") from error


def opened(plugin: PlugIn, takes: str, gives: str, methods: Sequence[str], *given: object) -> Any:
    """What a plug-in's function gives, once it has all methods of its kind.

    `takes` and `gives` say in words what it is called with and what it is to be. Raises InputError.
    """
    opener = plugin.load()
    if not callable(opener):
        raise plugin.refused(f"a function of {takes}", "It cannot be called.")
    with blamed(plugin):
        found = opener(*given)
    missing = [name for name in methods if not hasattr(found, name)]
    if missing:
        raise plugin.refused(gives, f"It has no {missing[0]}.")
    return found


@lru_cache(maxsize=1)
def installed() -> tuple[PlugIn, ...]:
    """All plug-ins of this Python, by kind and name. Loads none of them."""
    found, packages = [], set()
    for package in metadata.distributions():
        text = package.read_text("entry_points.txt") or ""
        if "ripplefield." in text and package.name not in packages:
            packages.add(package.name)
            found += _of_package(package)
    return tuple(sorted(found, key=lambda one: (one.kind, one.name, one.package)))


def _of_package(package: metadata.Distribution) -> list[PlugIn]:
    try:
        points = list(package.entry_points)
    except (TypeError, ValueError):  # a list that was written by hand, wrongly
        return []
    return [
        PlugIn(GROUPS[point.group], point.name, package.name, package.version, point.value)
        for point in points
        if point.group in GROUPS
    ]


def find(kind: Kind, name: str, built_in: Collection[str]) -> PlugIn | None:
    """The plug-in of this name, or None.

    Raises InputError for a name that Ripplefield itself has, or that two packages bring.
    """
    found = [one for one in installed() if (one.kind, one.name) == (kind, name)]
    if found and name in built_in:
        raise found[0].refused(
            f"a name other than {', '.join(built_in)}", f"{name} is Ripplefield's own name."
        )
    if len(found) > 1:
        both = " and ".join(one.value for one in found)
        todo = f"Remove one of them: pip uninstall {found[1].package}"
        raise InputError(f"{kind} {name}", f"{both}", "one package that brings it", todo)
    return found[0] if found else None


def names(kind: Kind, built_in: Collection[str]) -> list[str]:
    """Names of plug-ins of this kind that can be used, sorted."""
    return sorted({one.name for one in installed() if one.kind == kind} - set(built_in))


def recorded(*plugins: PlugIn | None) -> dict[str, str]:
    """What a record's versions say of the plug-ins that took part."""
    return {one.key: one.value for one in plugins if one is not None}


def require_recorded(
    versions: Mapping[str, str], kind: Kind, where: str, same: bool = False
) -> None:
    """Raise InputError unless the plug-ins of a record are installed; `same` asks for its versions.

    `versions` are the record's, `kind` is what matters now, `where` names the record.
    """
    here = {one.key: one.value for one in installed()}
    for key, value in versions.items():
        if not key.startswith(f"{MARK}{kind} "):
            continue
        found = here.get(key, "")
        if not found or (same and found != value):
            raise InputError(
                f"{where}, {key}", found, f"{value}, which the exam was run with",
                f"Install it: pip install {value.replace(' ', '==')}",
            )  # fmt: skip
