"""Packages installed into a folder of their own, and programs that see them by PYTHONPATH."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXTENDING = ROOT / "docs" / "extending"
EXAMPLES = EXTENDING / "examples"
PROGRAM = Path(sys.executable).with_name("ripplefield")


@dataclass(frozen=True)
class Said:
    code: int
    out: str
    errors: str


@dataclass(frozen=True)
class Site:
    """A folder of installed packages, and a folder to work in."""

    packages: Path
    desk: Path

    def run(self, words: Iterable[object], display: str | None = None, **more: str) -> Said:
        paths = [str(self.packages), str(ROOT)]
        environment = os.environ | {"PYTHONPATH": os.pathsep.join(paths)} | more
        environment.pop("DISPLAY", None)
        if display is not None:
            environment["DISPLAY"] = display
        done = subprocess.run(
            [str(word) for word in words],
            cwd=self.desk,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        return Said(done.returncode, done.stdout, done.stderr)

    def ripplefield(self, *words: object, display: str | None = None) -> Said:
        return self.run([PROGRAM, *words], display)


def pip_install(source: Path, target: Path) -> None:
    """Build and install with what is here already: no network."""
    copy = target.parent / f"{target.name}-source" / source.name
    shutil.copytree(source, copy, ignore=shutil.ignore_patterns("__pycache__"))
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"]
    command += ["--no-build-isolation", "--disable-pip-version-check", "--no-compile"]
    subprocess.run([*command, "--target", str(target), str(copy)], check=True, timeout=120)


def plant(packages: Path, name: str, group: str, entry: str, code: str, version="1.0") -> None:
    """A package written out by hand, as `pip install` leaves one: a module and its list."""
    packages.mkdir(exist_ok=True)
    module = name.replace("-", "_")
    (packages / f"{module}.py").write_text(code)
    about = packages / f"{module}-{version}.dist-info"
    about.mkdir()
    (about / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n")
    (about / "entry_points.txt").write_text(f"[ripplefield.{group}]\n{entry}\n")
