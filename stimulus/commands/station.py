"""`ripplefield station`: the operator's pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import Number, Words

if TYPE_CHECKING:
    from pathlib import Path

    from stimulus.station.serve import Door


@click.command(cls=Command, epilog="Example: ripplefield station --data fair-2030 --port 8765")
@click.option(
    "--data",
    type=Words("a folder"),
    default="ripplefield-station",
    show_default=True,
    metavar="DIR",
    help="Folder for queue, records and settings; made if it is not there.",
)
@click.option(
    "--port",
    type=Number(0, 65535, "Choose one that is free; 0 lets the system choose.", whole=True),
    default="0",
    show_default=True,
    help="Port to listen on; 0 for any that is free.",
)
@click.option(
    "--listen",
    type=Words("an address in numbers, such as 192.168.1.20"),
    default="127.0.0.1",
    show_default=True,
    metavar="ADDRESS",
    help="Another address than this machine's own needs TLS and a pass phrase.",
)
@click.option("--tls-cert", type=Words("a PEM file"), metavar="FILE", help="TLS certificate.")
@click.option("--tls-key", type=Words("a PEM file"), metavar="FILE", help="Its key.")
@click.option(
    "--pass-phrase-file",
    type=Words("a file"),
    metavar="FILE",
    help="File whose first line is the pass phrase, at least 12 signs.",
)
def command(
    data: str,
    port: float,
    listen: str,
    tls_cert: str | None,
    tls_key: str | None,
    pass_phrase_file: str | None,
) -> int:
    """Serve the operator's pages on this machine, and print the link that opens them once.

    Exams run as programs of their own: they go on if the station ends, and the next station on the
    same folder finds them.
    """
    from pathlib import Path

    from stimulus.station.serve import require_tls, serve

    door = _door(listen, int(port), tls_cert, tls_key, pass_phrase_file)
    require_tls(door)
    serve(Path(data), door, lambda text: click.echo(text, err=True))
    return 0


def _door(
    listen: str, port: int, tls_cert: str | None, tls_key: str | None, phrase_file: str | None
) -> Door:
    from pathlib import Path

    from stimulus.station.serve import Door

    return Door(
        listen,
        port,
        None if tls_cert is None else Path(tls_cert),
        None if tls_key is None else Path(tls_key),
        None if phrase_file is None else _first_line(Path(phrase_file)),
    )


def _first_line(path: Path) -> str:
    from protocols.files import read_text

    return read_text(path, "--pass-phrase-file").partition("\n")[0].strip()
