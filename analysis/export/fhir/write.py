"""Writing FHIR Observations: one JSON file an eye."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from analysis.export.fhir.observation import observation
from analysis.export.source import read_sources, require_shown
from analysis.export.target import Watch, new_folder, write_json
from analysis.report.exam import read_exams


def export_fhir(folders: Sequence[Path], out: Path, watch: Watch) -> int:
    """Write the exams into a new folder; returns how many Observations it holds.

    Raises InputError for an exam that cannot be exported or a folder that cannot be written;
    nothing is left behind.
    """
    with new_folder(out) as folder:
        sources, number = read_sources(folders), Counter[str]()
        for done, source in enumerate(sources, start=1):
            number[source.opened.participant] += 1
            stem = f"{source.opened.participant}_{number[source.opened.participant]}"
            _write_exam(source.folder, folder, stem)
            watch(done, len(sources))
        return len(list(folder.iterdir()))


def _write_exam(exam: Path, folder: Path, stem: str) -> None:
    [shown] = read_exams([exam], None)
    require_shown(exam, len(shown.record.trials))
    for eye, found in shown.eyes:
        if shown.record.of_eye(eye):
            write_json(folder / f"{stem}_{eye}.json", observation(shown, eye, found))
