"""`ripplefield certify`: what a certificate supports."""

from __future__ import annotations

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import Words


@click.command(cls=Command, epilog="Example: ripplefield certify screen.json")
@click.argument("certificate", metavar="CERT.json", type=Words("a certificate's file"))
@click.option("--json", "as_json", is_flag=True, help="Print what it supports as JSON.")
def command(certificate: str, as_json: bool) -> int:
    """Explain CERT.json: what was measured, what it supports, when it lapses. Exit 1 if lapsed."""
    from datetime import datetime, timezone
    from pathlib import Path

    from calibration.certificate import read_certificate
    from calibration.explain import in_words

    found = read_certificate(Path(certificate))
    lapsed = datetime.now(timezone.utc) >= datetime.fromisoformat(found.lapses_utc)
    if as_json:
        from stimulus.calibrating.supports import supports_json

        click.echo(supports_json(found, lapsed))
    else:
        click.echo(in_words(found))
        click.echo("LAPSED: calibrate again." if lapsed else "valid")
    return 1 if lapsed else 0
