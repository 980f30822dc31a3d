"""`ripplefield compare`: eyes and visits of one person."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from protocols import RESEARCH_ONLY
from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.compare import Comparison
    from analysis.report.rows import Table


@click.command(
    cls=Command, epilog="Example: ripplefield compare P-017-spring P-017-autumn --out P-017.html"
)
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--reference",
    type=Words("a reference file"),
    metavar="FILE",
    help="Judge all exams against this reference; default: that of the last exam.",
)
@click.option(
    "--out", type=Words("FILE.html"), metavar="FILE.html", help="Write a page with pictures too."
)
@click.option("--json", "as_json", is_flag=True, help="Print the comparison as JSON.")
def command(
    folders: tuple[str, ...], reference: str | None, out: str | None, as_json: bool
) -> int:
    """Compare the two eyes of one exam, or the visits of one person: words, then tables."""
    from pathlib import Path

    from analysis.compare import compare
    from analysis.reference import load_reference
    from stimulus.commands.parameters import exam_folders, require_new_name

    if out:
        require_new_name(Path(out), "--out", ".html")
    chosen = load_reference(Path(reference)) if reference else None
    found = compare(exam_folders(folders), chosen)
    _print_json(found) if as_json else _say(found)
    if out:
        _write(found, Path(out), quiet=as_json)
    return 0


def _say(found: Comparison) -> None:
    from analysis.compare_rows import tables
    from analysis.compare_words import sentences

    for sentence in sentences(found):
        click.echo(sentence)
    for note in found.notes:
        click.echo(f"  {note}")
    for table in tables(found):
        click.echo(f"\n{_as_text(table)}")
    click.echo("")
    if found.simulated:
        click.echo("Simulated participant: no person was examined.")
    if found.synthetic:
        click.echo(found.reference_notice)
    click.echo(RESEARCH_ONLY)


def _as_text(table: Table) -> str:
    lines = [table.heads, *table.rows]
    widths = [max(len(line[k]) for line in lines) for k in range(len(table.heads))]
    rows = [
        "  ".join(cell.rjust(width) for cell, width in zip(line, widths, strict=True))
        for line in lines
    ]
    return "\n".join([table.caption, *rows])


def _print_json(found: Comparison) -> None:
    import json

    from analysis.compare_rows import as_data

    click.echo(json.dumps(as_data(found), indent=2, ensure_ascii=False))


def _write(found: Comparison, out: Path, quiet: bool) -> None:
    from analysis.compare_page import comparison_page
    from analysis.plain_page.page import write_page

    page = write_page(comparison_page(found), out)
    if not quiet:
        click.echo(f"page: {page}")
