"""`ripplefield export`: exams in formats that other programs read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command, Group
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from collections.abc import Callable

OUT = click.option(
    "--out",
    required=True,
    type=Words("a folder that does not exist yet"),
    metavar="DIR",
    help="The new folder; it appears when all of it is written.",
)
FOLDERS = click.argument(
    "folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS
)


@click.group(cls=Group, epilog="Example: ripplefield export bids exams/* --out dataset")
def command() -> None:
    """Write exams as BIDS, DICOM or FHIR into a new folder."""


@command.command(cls=Command, epilog="Example: ripplefield export bids exams/* --out dataset")
@FOLDERS
@OUT
def bids(folders: tuple[str, ...], out: str) -> int:
    """Write the exams in DIR... as one BIDS dataset: participants, sessions, runs."""
    from pathlib import Path

    from analysis.export.bids.write import export_bids
    from stimulus.commands.parameters import exam_folders
    from stimulus.export_bar import export_bar

    chosen = exam_folders(folders)
    with export_bar(len(chosen)) as watch:
        people = export_bids(chosen, Path(out), watch)
    _say(out, f"{len(chosen)} exams of {people} participants as BIDS")
    return 0


def _say(out: str, what: str) -> None:
    from protocols import RESEARCH_ONLY

    click.echo(f"{out}: {what}")
    click.echo(RESEARCH_ONLY)
