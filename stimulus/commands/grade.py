"""`ripplefield grade`: from journals to results."""

from __future__ import annotations

import click


@click.command(epilog="Example: ripplefield grade exams/P-017")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...")
@click.option("--reference", metavar="FILE", help="Grade against this reference instead.")
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
def command(folders: tuple[str, ...], reference: str | None, as_json: bool) -> int:
    """Write result.json, places.csv and presentations.csv into each exam's folder."""
    from pathlib import Path

    from analysis.grade import grade_folder
    from analysis.reference import load_reference
    from analysis.result import result_bytes
    from stimulus.commands.parameters import exam_folders

    chosen = load_reference(Path(reference)) if reference else None
    for folder in exam_folders(folders):
        result = grade_folder(folder, chosen)
        if as_json:
            click.echo(result_bytes(result).decode(), nl=False)
            continue
        for eye in result.eyes.values():
            click.echo(f"{folder}: {eye.sentence}")
        click.echo(f"  {result.notice}")
        if result.reference.synthetic:
            click.echo(f"  {result.reference.notice}")
    return 0
