"""`ripplefield report`: the page a person reads."""

from __future__ import annotations

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words


@click.command(cls=Command, epilog="Example: ripplefield report exams/P-017 --out P-017.html")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--out",
    type=Words("FILE.html or FILE.pdf"),
    metavar="FILE",
    help="FILE.html or FILE.pdf; default: report.html in DIR.",
)
def command(folders: tuple[str, ...], out: str | None) -> int:
    """Write one page for the exams given: fields, intervals, time line, tables."""
    from pathlib import Path

    from analysis.report.page import write_report

    from stimulus.commands.parameters import exam_folders

    chosen = exam_folders(folders)
    path = write_report(chosen, Path(out) if out else chosen[0] / "report.html")
    click.echo(f"page: {path}")
    return 0
