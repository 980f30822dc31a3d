"""`ripplefield sign`: vouch for a record with a lab's own key."""

from __future__ import annotations

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import EXAM_FOLDERS, Words


@click.command(cls=Command, epilog="Example: ripplefield sign exams/P-017 --key lab.pem")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--key",
    required=True,
    type=Words("an Ed25519 private key in a PEM file"),
    metavar="FILE",
    help="The lab's private key: openssl genpkey -algorithm ed25519 -out lab.pem",
)
def command(folders: tuple[str, ...], key: str) -> int:
    """Sign the records in DIR... with a detached Ed25519 signature.

    Check with ripplefield verify --public-key, or without this program: sha256sum -c record.sha256
    and openssl pkeyutl -verify -rawin.
    """
    from pathlib import Path

    from protocols.signature import SIGNATURE, private_key_of, sign
    from stimulus.commands.parameters import exam_folders

    private = private_key_of(Path(key))
    for folder in exam_folders(folders):
        sign(folder, private)
        click.echo(f"{folder / SIGNATURE}")
    return 0
