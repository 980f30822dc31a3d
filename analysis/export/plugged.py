"""Exports of other packages: they get exams that may leave the lab, and a new folder to fill."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.export.shared import CAUTION, shareable
from analysis.export.source import read_sources, require_shown
from analysis.export.target import Watch, new_folder, write_json
from analysis.report.exam import Shown, read_exams
from protocols import RESEARCH_ONLY, __version__
from protocols.plugins import PlugIn, blamed

MADE_BY = "made-by.json"
"""The file beside a plug-in's own that says who wrote them."""


@dataclass(frozen=True)
class ExportPlugIn:
    """What an entry point of group `ripplefield.exports` names.

    `write_exam` gets an exam, a stem for its file names, such as `P-017_1`, and the folder to write
    into. The exam's `result` names no operator and no file; its `record` is whole, and what is
    taken from it must not either. It raises InputError for an exam it cannot write.
    """

    write_exam: Callable[[Shown, str, Path], None]


def load(plugin: PlugIn) -> ExportPlugIn:
    """The plug-in, checked; raises InputError for one that is not what it should be."""
    found = plugin.load()
    if not isinstance(found, ExportPlugIn):
        raise plugin.refused("an ExportPlugIn", f"It is of type {type(found).__name__}.")
    return found


def export_plugged(plugin: PlugIn, folders: Sequence[Path], out: Path, watch: Watch) -> int:
    """Write the exams into a new folder by a plug-in; returns how many files it made.

    Raises InputError for an exam that cannot be exported, a folder that cannot be written, or a
    plug-in that is broken; nothing is left behind.
    """
    export = load(plugin)
    with new_folder(out) as folder:
        sources, number = read_sources(folders), dict[str, int]()
        for done, source in enumerate(sources, start=1):
            code = source.opened.participant
            number[code] = number.get(code, 0) + 1
            with blamed(plugin):
                export.write_exam(_shown(source.folder), f"{code}_{number[code]}", folder)
            watch(done, len(sources))
        files = sum(path.is_file() for path in folder.rglob("*"))
        if files == 0:
            raise plugin.refused("an export that writes files", "It wrote none.")
        _sign(plugin, folder)
        return files


def _shown(folder: Path) -> Shown:
    [shown] = read_exams([folder], None)
    require_shown(folder, len(shown.record.trials))
    return shareable(shown)


def _sign(plugin: PlugIn, folder: Path) -> None:
    if (folder / MADE_BY).exists():
        raise plugin.refused(f"files other than {MADE_BY}", "It wrote one.")
    about = {
        "notice": RESEARCH_ONLY,
        "caution": CAUTION,
        "ripplefield": __version__,
        "plug_in": {"name": plugin.name, "package": plugin.package, "version": plugin.version},
    }
    write_json(folder / MADE_BY, about)
