"""`ripplefield schema`: JSON Schemas generated from the types."""

from __future__ import annotations

import json

import click

FORMATS = ("protocol", "journal", "result")


@click.command(epilog="Example: ripplefield schema protocol > protocol.schema.json")
@click.argument("kind", type=click.Choice(FORMATS))
def command(kind: str) -> int:
    """Print the JSON Schema of a file format."""
    from analysis.result import result_schema
    from protocols.events import journal_schema
    from protocols.protocol import protocol_schema

    makers = {"protocol": protocol_schema, "journal": journal_schema, "result": result_schema}
    click.echo(json.dumps(makers[kind](), indent=2))
    return 0
