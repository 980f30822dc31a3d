"""Writing a BIDS dataset, one exam in memory at a time."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

from analysis.export.bids import top
from analysis.export.bids.events import events_tsv, sidecar
from analysis.export.bids.runs import Run, make_runs
from analysis.export.source import read_sources, require_shown
from analysis.export.target import Watch, new_folder, write_json
from analysis.load import load_exam


def export_bids(folders: Sequence[Path], out: Path, watch: Watch) -> int:
    """Write the exams as a new dataset; returns how many participants it holds.

    Raises InputError for an exam that cannot be exported or a folder that cannot be written; then
    nothing is left behind.
    """
    with new_folder(out) as folder:
        runs = make_runs(read_sources(folders))
        for done, run in enumerate(runs, start=1):
            _write_run(folder / run.folder, run)
            watch(done, len(runs))
        _write_tables(folder, runs)
        _write_top(folder, runs)
    return len({run.subject for run in runs})


def _write_run(folder: Path, run: Run) -> None:
    exam = load_exam(run.source.folder)
    require_shown(run.source.folder, len(exam.trials))
    (folder / "beh").mkdir(parents=True, exist_ok=True)
    (folder / f"{run.stem}.tsv").write_text(events_tsv(exam), encoding="utf-8")
    write_json(folder / f"{run.stem}.json", sidecar(exam))


def _write_tables(folder: Path, runs: Sequence[Run]) -> None:
    for subject, group in groupby(runs, key=lambda run: run.subject):
        own, name = list(group), f"sub-{subject}"
        (folder / name / f"{name}_sessions.tsv").write_text(top.sessions_tsv(own))
        write_json(folder / name / f"{name}_sessions.json", top.SESSION_COLUMNS)
        for place, session in groupby(own, key=lambda run: run.folder):
            scans = f"{place.replace('/', '_')}_scans.tsv"
            (folder / place / scans).write_text(top.scans_tsv(list(session)))


def _write_top(folder: Path, runs: Sequence[Run]) -> None:
    write_json(folder / "dataset_description.json", top.description())
    (folder / "README.md").write_text(top.readme(), encoding="utf-8")
    (folder / "participants.tsv").write_text(top.participants_tsv(runs))
    write_json(folder / "participants.json", top.PARTICIPANT_COLUMNS)
