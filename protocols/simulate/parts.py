"""Finished pieces on disk, so that a run that was stopped goes on where it was.

Beside `results.csv` a folder `results.csv.parts` holds a part for each finished piece and says
which run they belong to. When all are there they become the results, and the folder goes.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from protocols.errors import InputError
from protocols.simulate.results import Format, format_of, join
from protocols.write import write_whole

RUN = "run.json"


@dataclass(frozen=True)
class Kept:
    """Finished pieces of the run that is to make `out`, each a file of this suffix."""

    out: Path
    suffix: str

    @property
    def folder(self) -> Path:
        """Where parts are kept."""
        return self.out.with_name(self.out.name + ".parts")

    def open(self, run: Mapping[str, object]) -> None:
        """Make ready for a run, or go on with it; raises InputError if this is another run's."""
        if self.out.exists():
            allowed = "a file that does not exist yet"
            raise InputError("--out", str(self.out), allowed, "Name another, or move it.")
        self.folder.mkdir(parents=True, exist_ok=True)
        described = json.dumps(run, indent=2, sort_keys=True) + "\n"
        known = self.folder / RUN
        if not known.exists():
            write_whole(known, described.encode())
        elif known.read_text(encoding="utf-8") != described:
            raise self._other_run(run, json.loads(known.read_text(encoding="utf-8")))

    def missing(self, numbers: range) -> list[int]:
        """Pieces that are not finished."""
        return [number for number in numbers if not self._path(number).exists()]

    def keep(self, number: int, content: bytes) -> None:
        """Put a finished piece down, whole or not at all."""
        write_whole(self._path(number), content)

    def part(self, number: int) -> bytes:
        """A finished piece."""
        return self._path(number).read_bytes()

    def remove(self) -> None:
        """Remove the pieces, once `out` is made of them."""
        shutil.rmtree(self.folder)

    def _path(self, number: int) -> Path:
        return self.folder / f"part-{number:07}.{self.suffix}"

    def _other_run(self, run: Mapping[str, object], known: Mapping[str, object]) -> InputError:
        differ = [key for key in sorted({*run, *known}) if run.get(key) != known.get(key)]
        return InputError(
            "--out",
            f"{self.out}, whose parts are those of a run with another {', another '.join(differ)}",
            "the same run again, or a new name",
            f"Name another file, or remove {self.folder}.",
        )


class Parts(Kept):
    """The parts of a results table."""

    def __init__(self, out: Path) -> None:
        super().__init__(out, format_of(out))

    @property
    def format(self) -> Format:
        """The format of the results."""
        return format_of(self.out)

    def finish(self, numbers: range) -> None:
        """Make the results of the parts and remove them."""
        growing = self.folder / "whole"
        join([self._path(number) for number in numbers], self.format, growing)
        os.replace(growing, self.out)
        self.remove()
