"""`ripplefield grade`: from journals to results."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from analysis.reference import Reference
    from analysis.result import Result


@click.command(cls=Command, epilog="Example: ripplefield grade exams --table all.csv")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--reference",
    type=Words("a reference file"),
    metavar="FILE",
    help="Grade against this reference instead.",
)
@click.option(
    "--table",
    type=Words("a new .csv file"),
    metavar="OUT.csv",
    help="Write one tidy table of all exams too: a row for each place.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print the result as JSON; a list for several DIR."
)
def command(
    folders: tuple[str, ...], reference: str | None, table: str | None, as_json: bool
) -> int:
    """Write result.json, places.csv and presentations.csv into each exam's folder.

    A DIR that holds no exam itself stands for the exams right below it.
    """
    from pathlib import Path

    from analysis.many import exams_below
    from analysis.reference import load_reference
    from analysis.result import result_bytes
    from stimulus.commands.parameters import exam_folders, require_new_name

    if table:
        require_new_name(Path(table), "--table", ".csv")
    chosen = load_reference(Path(reference)) if reference else None
    exams = exams_below(exam_folders(folders))
    graded = dict(zip(exams, _graded(exams, chosen), strict=True))
    if table:
        _write_table(Path(table), graded)
    if as_json:
        click.echo(_as_json([result_bytes(result) for result in graded.values()]), nl=False)
    else:
        for folder, result in graded.items():
            _say(folder, result)
    return 0


def _graded(exams: Sequence[Path], reference: Reference | None) -> Iterator[Result]:
    """Results in order, worked out on all processors where there are many; a bar shows how far."""
    from contextlib import nullcontext
    from functools import partial

    from analysis.grade import grade_folder
    from analysis.many import FEW, on_each
    from stimulus.lookouts import exams_bar

    work = partial(grade_folder, reference=reference)
    bar = exams_bar(len(exams), "exams") if len(exams) > FEW else nullcontext(lambda *_: None)
    with bar as watch:
        yield from on_each(work, exams, watch=watch)


def _write_table(path: Path, graded: dict[Path, Result]) -> None:
    from analysis.columns import PLACE_COLUMNS, csv_text, place_rows
    from protocols.write import write_whole

    rows = (row for folder, result in graded.items() for row in place_rows(folder.name, result))
    write_whole(path, csv_text(list(PLACE_COLUMNS), rows).encode())


def _as_json(results: list[bytes]) -> bytes:
    """One result as it stands in result.json, several as a list of them."""
    return results[0] if len(results) == 1 else b"[" + b",".join(results) + b"]\n"


def _say(folder: Path, result: Result) -> None:
    for eye in result.eyes.values():
        click.echo(f"{folder}: {eye.sentence}")
    click.echo(f"  {result.notice}")
    if result.reference.synthetic:
        click.echo(f"  {result.reference.notice}")
