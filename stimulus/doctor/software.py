"""Python, the packages it needs, the system's libraries."""

from __future__ import annotations

import ctypes
import platform
import re
import sys
from importlib import metadata

from stimulus.doctor.finding import Finding, good

OLDEST, TOO_NEW = (3, 10), (3, 13)
LIBRARIES = {
    "libX11.so.6": "libx11-6",
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libGLU.so.1": "libglu1-mesa",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
}
"""What a window needs of the system, and the Debian package that brings it."""
_NAME = re.compile(r"[A-Za-z0-9._-]+")


def python() -> Finding:
    """Whether this Python is one that Ripplefield was tried on."""
    version = sys.version_info[:2]
    found = f"{platform.python_version()} at {sys.prefix}"
    if OLDEST <= version < TOO_NEW:
        return good("Python", found)
    means = "Ripplefield is tried on Python 3.10 to 3.12; on another one PsychoPy may not install."
    return Finding("Python", "missing", found, means, "python3.11 -m venv .venv")


def packages() -> Finding:
    """Whether every package that Ripplefield needs is installed."""
    try:
        wanted = [line for line in metadata.requires("ripplefield") or [] if "extra ==" not in line]
    except metadata.PackageNotFoundError:
        means = "Its command works from the folder of its sources only."
        return Finding("Packages", "missing", "Ripplefield itself is not installed", means,
                       "pip install -c constraints.txt .")  # fmt: skip
    names = [found[0] for line in wanted if (found := _NAME.match(line))]
    absent = [name for name in names if name != "tomli" and not _is_there(name)]
    if not absent:
        return good("Packages", f"all {len(names)} that Ripplefield needs are installed")
    means = "What uses them ends in an error."
    mend = f"pip install {' '.join(absent)}"
    return Finding("Packages", "missing", f"not installed: {', '.join(absent)}", means, mend)


def _is_there(name: str) -> bool:
    try:
        metadata.version(name)
    except metadata.PackageNotFoundError:
        return False
    return True


def libraries() -> Finding:
    """Whether the system's libraries of a window can be loaded."""
    absent = [name for name in LIBRARIES if not _loads(name)]
    if not absent:
        return good("System libraries", f"{', '.join(LIBRARIES)} load")
    means = "No window can be opened: no exam, no calibration of a real display."
    debian = " ".join(sorted({*(LIBRARIES[name] for name in absent), "libgl1-mesa-dri"}))
    mend = f"sudo apt-get install -y {debian}"
    found = f"cannot be loaded: {', '.join(absent)}"
    return Finding("System libraries", "missing", found, means, mend)


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True
