"""`ripplefield schema`: JSON Schemas generated from the types."""

from __future__ import annotations

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import OneOf

FORMATS = (
    "protocol",
    "journal",
    "result",
    "certificate",
    "plan",
    "pilot",
    "case",
    "case-record",
)


@click.command(cls=Command, epilog="Example: ripplefield schema protocol > protocol.schema.json")
@click.argument("kind", type=OneOf(FORMATS), metavar="FORMAT")
def command(kind: str) -> int:
    """Print the JSON Schema of FORMAT, one of the files that the program reads or writes."""
    from stimulus.schemas import schema_text

    click.echo(schema_text(kind), nl=False)
    return 0
