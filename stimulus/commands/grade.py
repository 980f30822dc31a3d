"""`ripplefield grade`: from journals to results."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.result import Result


@click.command(cls=Command, epilog="Example: ripplefield grade exams/P-017")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--reference",
    type=Words("a reference file"),
    metavar="FILE",
    help="Grade against this reference instead.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print the result as JSON; a list for several DIR."
)
def command(folders: tuple[str, ...], reference: str | None, as_json: bool) -> int:
    """Write result.json, places.csv and presentations.csv into each exam's folder."""
    from pathlib import Path

    from analysis.grade import grade_folder
    from analysis.reference import load_reference
    from analysis.result import result_bytes
    from stimulus.commands.parameters import exam_folders

    chosen = load_reference(Path(reference)) if reference else None
    graded = {folder: grade_folder(folder, chosen) for folder in exam_folders(folders)}
    if as_json:
        click.echo(_as_json([result_bytes(result) for result in graded.values()]), nl=False)
    else:
        for folder, result in graded.items():
            _say(folder, result)
    return 0


def _as_json(results: list[bytes]) -> bytes:
    """One result as it stands in result.json, several as a list of them."""
    return results[0] if len(results) == 1 else b"[" + b",".join(results) + b"]\n"


def _say(folder: Path, result: Result) -> None:
    for eye in result.eyes.values():
        click.echo(f"{folder}: {eye.sentence}")
    click.echo(f"  {result.notice}")
    if result.reference.synthetic:
        click.echo(f"  {result.reference.notice}")
