"""Imports modules by name and loads plug-ins; prints what went wrong with each, as JSON."""

from __future__ import annotations

import importlib
import json
import sys

from protocols.plugins import KINDS, installed


def main(modules: list[str]) -> None:
    """One line of JSON: what each module and each plug-in said, empty where it loads."""
    print(json.dumps({"modules": {name: _said(name) for name in modules}, "plugins": _plugins()}))


def _said(module: str) -> str:
    try:
        importlib.import_module(module)
    except (Exception, SystemExit) as error:  # noqa: BLE001  another's code may raise anything
        return " ".join(f"{type(error).__name__}: {error}".split())
    return ""


def _plugins() -> list[dict[str, str]]:
    found = []
    for plugin in installed():
        words = {"name": f"{plugin.kind} {plugin.name}", "package": plugin.package}
        found.append(words | {"value": plugin.value, "said": _refusal(plugin.kind, plugin.name)})
    return found


def _refusal(kind: str, name: str) -> str:
    """Why a plug-in cannot be used, as its user would be told; empty if it can."""
    from protocols.errors import RipplefieldError
    from protocols.plugins import find

    assert kind in KINDS
    try:
        plugin = find(kind, name, _built_in(kind))
        if plugin is not None:
            _load(kind, plugin)
    except RipplefieldError as error:
        return str(error)
    return ""


def _built_in(kind: str) -> list[str]:
    from calibration.instruments import PHOTOMETER_KINDS
    from protocols.procedures.plugged import BUILT_IN
    from stimulus.buttons import BUTTON_KINDS

    own = {"procedure": BUILT_IN, "button": BUTTON_KINDS, "photometer": PHOTOMETER_KINDS}
    return list(own.get(kind, ("bids", "dicom", "fhir")))


def _load(kind: str, plugin: object) -> None:
    from analysis.export import plugged as export
    from protocols.plugins import PlugIn
    from protocols.procedures import plugged as procedure

    assert isinstance(plugin, PlugIn)
    if kind == "procedure":
        procedure.load(plugin)
    elif kind == "export":
        export.load(plugin)
    else:
        plugin.load()


if __name__ == "__main__":
    main(sys.argv[1:])
