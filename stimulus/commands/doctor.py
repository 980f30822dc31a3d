"""`ripplefield doctor`: what this machine lacks, what is slow, what to install."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import Words

if TYPE_CHECKING:
    from stimulus.doctor.finding import Finding

WIDTH = 18


@click.command(cls=Command, epilog="Example: ripplefield doctor --out exams")
@click.option(
    "--out",
    type=Words("a folder that exists"),
    default=".",
    metavar="DIR",
    help="Where records will go; its disk is tried. Default: this folder.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def command(out: str, as_json: bool) -> int:
    """Try out what exams need of this machine. Exit 1 if something they need is missing."""
    from pathlib import Path

    from protocols.errors import InputError
    from stimulus.doctor.examine import examine

    if not Path(out).is_dir():
        raise InputError("--out", out, "a folder that exists", f"Make it first: mkdir -p {out}")
    found = _told(examine(Path(out)), as_json)
    missing = [one.name for one in found if one.state == "missing"]
    if as_json:
        click.echo(_as_json(found))
    else:
        _conclude(missing)
    return 1 if missing else 0


def _told(findings: Iterable[Finding], as_json: bool) -> list[Finding]:
    found = []
    for one in findings:
        found.append(one)
        if not as_json:
            _tell(one)
    return found


def _tell(one: Finding) -> None:
    click.echo(f"{one.state:9s} {one.name:{WIDTH}s} {one.found}")
    for word, text in (("means:", one.means), ("mend:", one.mend)):
        if text and one.state != "good":
            click.echo(f"{'':9s} {word:>{WIDTH}s} {text}")


def _conclude(missing: list[str]) -> None:
    from protocols import RESEARCH_ONLY

    if missing:
        click.echo(f"Exams need what is missing: {', '.join(missing)}.")
    else:
        click.echo("All that exams need is here.")
    click.echo(RESEARCH_ONLY)


def _as_json(found: list[Finding]) -> str:
    from protocols import RESEARCH_ONLY, __version__

    needed = not any(one.state == "missing" for one in found)
    about = {"notice": RESEARCH_ONLY, "version": __version__, "all_that_exams_need": needed}
    return json.dumps(about | {"findings": [asdict(one) for one in found]}, indent=2)
