"""Writing DICOM files: for each exam one an eye, and the sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from pydicom import dcmwrite
from pydicom.dataset import Dataset

from analysis.export.dicom.eye import eyes_tested, mean_luminance
from analysis.export.dicom.objects import perimetry_file, sheet_file
from analysis.export.source import read_sources
from analysis.export.target import Watch, new_folder
from analysis.report.exam import Shown, read_exams
from protocols.errors import InputError


def export_dicom(
    folders: Sequence[Path], out: Path, watch: Watch, stated_cd_m2: float | None = None
) -> list[Path]:
    """Write the exams into a new folder; returns the files, in the order they were written.

    `stated_cd_m2` is the mean luminance of displays that were not measured. Raises InputError for
    an exam that cannot be exported or a folder that cannot be written; nothing is left behind.
    """
    names: list[str] = []
    with new_folder(out) as folder:
        sources = read_sources(folders)
        number = Counter[str]()
        for done, source in enumerate(sources, start=1):
            code = source.opened.participant
            number[code] += 1
            [shown] = read_exams([source.folder], None)
            files = _files(shown, source.folder, stated_cd_m2)
            names += [_write(folder, f"{code}_{number[code]}", *file) for file in files.items()]
            watch(done, len(sources))
    return [out / name for name in names]


def _files(shown: Shown, folder: Path, stated_cd_m2: float | None) -> dict[str, Dataset]:
    """The data sets of an exam by the last part of their names."""
    luminance = mean_luminance(shown, stated_cd_m2)
    made: dict[str, Dataset] = {}
    made |= {tested.eye: perimetry_file(tested) for tested in eyes_tested(shown, luminance)}
    if not made:
        raise InputError(
            "DIR",
            str(folder),
            "an exam with a place that was tested to its end",
            "Leave this folder out: there is nothing to tell of.",
        )
    return {**made, "sheet": sheet_file(shown, list(made.values()))}


def _write(folder: Path, stem: str, last: str, dataset: Dataset) -> str:
    name = f"{stem}_{last}.dcm"
    dcmwrite(folder / name, dataset, enforce_file_format=True)
    return name
