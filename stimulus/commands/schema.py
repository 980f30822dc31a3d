"""`ripplefield schema`: JSON Schemas generated from the types."""

from __future__ import annotations

import json

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import OneOf

FORMATS = ("protocol", "journal", "result", "certificate", "plan", "pilot")


@click.command(cls=Command, epilog="Example: ripplefield schema protocol > protocol.schema.json")
@click.argument("kind", type=OneOf(FORMATS), metavar="FORMAT")
def command(kind: str) -> int:
    """Print the JSON Schema of FORMAT: protocol, journal, result, certificate, plan or pilot."""
    from analysis.piloting.plan import plan_schema
    from analysis.piloting.result import pilot_schema
    from analysis.result import result_schema
    from calibration.certificate import certificate_schema
    from protocols.events import journal_schema
    from protocols.protocol import protocol_schema

    makers = {
        "protocol": protocol_schema,
        "journal": journal_schema,
        "result": result_schema,
        "certificate": certificate_schema,
        "plan": plan_schema,
        "pilot": pilot_schema,
    }
    click.echo(json.dumps(makers[kind](), indent=2))
    return 0
