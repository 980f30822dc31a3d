"""`ripplefield verify`: is the record what was written?"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from pathlib import Path

    from protocols.verify import Verification


@click.command(cls=Command, epilog="Example: ripplefield verify exams/P-017")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--public-key",
    type=Words("an Ed25519 public key in a PEM file"),
    metavar="FILE",
    help="Check the signatures too: every exam must be signed by this key's owner.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def command(folders: tuple[str, ...], public_key: str | None, as_json: bool) -> int:
    """Check exams for changed, lost or reordered lines. Exit 1 if anything is wrong."""
    from stimulus.commands.parameters import exam_folders

    sound = True
    say = _Json() if as_json else _Text()
    for found in _findings(exam_folders(folders), public_key):
        say.one(found)
        sound = sound and found.sound
    say.end()
    return 0 if sound else 1


def _findings(folders: list[Path], public_key: str | None) -> Iterator[Verification]:
    """One after the other, so that any number of exams fits."""
    from protocols.verify_record import verify_record

    if public_key is None:
        yield from map(verify_record, folders)
        return
    from pathlib import Path

    from protocols.signature import public_key_of, verify_signature

    key = public_key_of(Path(public_key))
    for folder in folders:
        found = verify_record(folder)
        found.problems.extend(verify_signature(folder, key))
        yield found


class _Text:
    def one(self, found: Verification) -> None:
        state = "closed" if found.closed else "not closed"
        verdict = "sound" if found.sound else "NOT SOUND"
        click.echo(f"{found.folder}: {verdict}, {found.lines} lines, {state}")
        if found.torn_bytes:
            torn = f"{found.torn_bytes} bytes of a torn last line follow"
            click.echo(f"  {torn}; resume sets them aside")
        if found.unconfirmed:
            click.echo(
                f"  {found.unconfirmed} line(s) after the last confirmed one: it was cut off there"
            )
        for text in (*found.problems, *found.notes):
            click.echo(f"  {text}")

    def end(self) -> None:
        pass


class _Json:
    """A list, written piece by piece."""

    def __init__(self) -> None:
        self._before = "["

    def one(self, found: Verification) -> None:
        text = json.dumps(asdict(found) | {"sound": found.sound}, indent=2)
        click.echo(self._before + "\n  " + text.replace("\n", "\n  "), nl=False)
        self._before = ","

    def end(self) -> None:
        click.echo("[]" if self._before == "[" else "\n]")
