"""Optional packages with what each gives, and plug-ins."""

from __future__ import annotations

from typing import Any

from stimulus.doctor.finding import Finding, good
from stimulus.doctor.outside import Failed, ask

EXTRAS = {
    "export": ("pynetdicom", "export dicom --send: sends files to a DICOM node"),
    "sign": ("cryptography", "sign and verify --public-key: a lab's signature on its records"),
    "lsl": ("pylsl", "run --lsl: markers for other recorders (Lab Streaming Layer)"),
    "cluster": ("distributed", "simulate --cluster: exams on a Dask cluster"),
}


def extras() -> list[Finding]:
    """Imports every optional package, and loads every plug-in, in a program of its own."""
    try:
        said = ask("stimulus.doctor.extras_program", *(module for module, _ in EXTRAS.values()))
    except Failed as failed:
        return [Finding("Extras", "slow", f"cannot be tried: {failed}", "", "")]
    modules = said["modules"]
    return [
        *(_extra(name, module, gives, modules[module])
          for name, (module, gives) in EXTRAS.items()),
        *map(_plugin, said["plugins"]),
    ]


def _extra(name: str, module: str, gives: str, said: str) -> Finding:
    title = f"Extra {name}"
    if not said:
        return good(title, f"installed. {gives}")
    found = "not installed" if said.startswith("ModuleNotFoundError") else f"does not load: {said}"
    return Finding(title, "optional", found, f"It gives {gives}.", f"pip install {module}")


def _plugin(found: dict[str, Any]) -> Finding:
    title = f"Plug-in {found['name']}"
    if not found["said"]:
        return good(title, f"{found['value']} loads")
    means = f"It cannot be used: {found['said']}"
    return Finding(title, "slow", found["value"], means, f"pip uninstall {found['package']}")
