"""`ripplefield scrub`: copies of records for sharing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Number, Words

if TYPE_CHECKING:
    from stimulus.scrubbing import Copied

TELLING_AGE_YEARS = 90
"""Ages from here on can identify (US 45 CFR 164.514(b)(2)(i)(C) counts them as identifiers)."""


@click.command(cls=Command, epilog="Example: ripplefield scrub exams/* --out to-share")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--out",
    required=True,
    type=Words("a folder that does not exist yet"),
    metavar="DIR",
    help="The new folder; it appears when all of it is written.",
)
@click.option(
    "--keep-key",
    type=Words("a file that does not exist yet"),
    metavar="FILE",
    help="Keep which code became which, and by how many days dates moved. Kept nowhere if not.",
)
@click.option(
    "--seed",
    type=Number(0, 2**53, "Leave it out for codes that nobody can draw again.", whole=True),
    metavar="N",
    help="Same seed, same codes and dates; whoever knows it can undo the scrubbing.",
)
def command(folders: tuple[str, ...], out: str, keep_key: str | None, seed: float | None) -> int:
    """Copy the records in DIR... with new random codes and shifted dates, for sharing.

    The participant's code, all dates, initials, serial numbers and the command as typed are
    replaced; trials, levels, times and grades stay. Exams of one participant stay together. The
    text of protocol and reference is copied as it is: look through it yourself.
    """
    from pathlib import Path

    from protocols import RESEARCH_ONLY
    from stimulus.commands.parameters import exam_folders
    from stimulus.scrubbing import scrub

    key = None if keep_key is None else Path(keep_key)
    drawn = None if seed is None else int(seed)
    for one in scrub(exam_folders(folders), Path(out), drawn, key):
        _say(one)
    click.echo(f"{out}: copies for sharing. Dates are shifted to 1925 or earlier.")
    if key is not None:
        click.echo(f"{key}: which code became which. Never share it.")
    click.echo(RESEARCH_ONLY)
    return 0


def _say(one: Copied) -> None:
    if one.torn_bytes:
        click.echo(f"{one.name}: {one.torn_bytes} bytes of a torn last line are left out", err=True)
    if one.age_years >= TELLING_AGE_YEARS:
        text = f"{one.name}: the age of {one.age_years} is kept; such an age can tell who it is"
        click.echo(text, err=True)
