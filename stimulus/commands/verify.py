"""`ripplefield verify`: is the record what was written?"""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS

if TYPE_CHECKING:
    from protocols.verify import Verification


@click.command(cls=Command, epilog="Example: ripplefield verify exams/P-017")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def command(folders: tuple[str, ...], as_json: bool) -> int:
    """Check exams for changed, lost or reordered lines. Exit 1 if anything is wrong."""
    from protocols.verify import verify
    from stimulus.commands.parameters import exam_folders

    found = [verify(folder) for folder in exam_folders(folders)]
    if as_json:
        click.echo(json.dumps([asdict(one) | {"sound": one.sound} for one in found], indent=2))
    else:
        for one in found:
            _say(one)
    return 0 if all(one.sound for one in found) else 1


def _say(found: Verification) -> None:
    state = "closed" if found.closed else "not closed"
    verdict = "sound" if found.sound else "NOT SOUND"
    click.echo(f"{found.folder}: {verdict}, {found.lines} lines, {state}")
    if found.torn_bytes:
        click.echo(f"  {found.torn_bytes} bytes of a torn last line follow; resume sets them aside")
    for problem in found.problems:
        click.echo(f"  {problem}")
