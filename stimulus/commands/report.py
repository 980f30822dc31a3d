"""`ripplefield report`: the page a person reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from pathlib import Path


@click.command(cls=Command, epilog="Example: ripplefield report exams/P-017 --out P-017.html")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--out",
    type=Words("FILE.html or FILE.pdf"),
    metavar="FILE",
    help="FILE.html or FILE.pdf; default: report.html in DIR.",
)
@click.option(
    "--reference",
    type=Words("a reference file"),
    metavar="FILE",
    help="Grade against this reference instead.",
)
def command(folders: tuple[str, ...], out: str | None, reference: str | None) -> int:
    """Write one page for the exams in DIR..., or for a display's CERT.json."""
    from pathlib import Path

    from analysis.reference import load_reference
    from analysis.report.page import write_report
    from stimulus.commands.parameters import exam_folders

    if len(folders) == 1 and folders[0].endswith(".json"):
        return _certificate(Path(folders[0]), out, reference)
    chosen = exam_folders(folders)
    against = load_reference(Path(reference)) if reference else None
    path = write_report(chosen, Path(out) if out else chosen[0] / "report.html", against)
    click.echo(f"page: {path}")
    return 0


def _certificate(path: Path, out: str | None, reference: str | None) -> int:
    from pathlib import Path

    from protocols.errors import InputError

    if reference:
        raise InputError(
            "--reference", reference, "an exam's folder to grade, not a certificate",
            "Leave --reference out for a display's page.",
        )  # fmt: skip

    from stimulus.certificate_page.page import write_certificate_page

    page = write_certificate_page(path, Path(out) if out else path.with_suffix(".html"))
    click.echo(f"page: {page}")
    return 0
