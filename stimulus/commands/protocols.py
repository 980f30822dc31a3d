"""`ripplefield protocols`: which protocols there are and what one does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from protocols import RESEARCH_ONLY
from stimulus.commands.base import Command, Group
from stimulus.commands.parameters import Words

if TYPE_CHECKING:
    from protocols.library import Protocol


@click.group(
    cls=Group,
    invoke_without_command=True,
    epilog="Example: ripplefield protocols show screen-19",
)
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> int:
    """List the bundled protocols."""
    if ctx.invoked_subcommand is None:
        from protocols.library import bundled_protocols, load_protocol

        found = [load_protocol(name) for name in bundled_protocols()]
        _print_json([_facts(one) for one in found]) if as_json else _list(found)
    return 0


@command.command(cls=Command, epilog="Example: ripplefield protocols show screen-17")
@click.argument("protocol", type=Words("a bundled name or the path of a .toml file"))
@click.option("--json", "as_json", is_flag=True, help="Print the protocol as JSON.")
def show(protocol: str, as_json: bool) -> int:
    """Explain PROTOCOL, a bundled name or a file, in words."""
    from protocols.explain import in_words
    from protocols.library import load_protocol

    found = load_protocol(protocol)
    if as_json:
        _print_json(_facts(found) | _details(found))
    else:
        click.echo(f"{in_words(found)}\n{RESEARCH_ONLY}")
    return 0


def _list(found: list[Protocol]) -> None:
    for one in found:
        click.echo(f"{one.name:14} {one.settings.about}")
    click.echo(RESEARCH_ONLY)


def _print_json(value: object) -> None:
    import json

    click.echo(json.dumps(value, indent=2))


def _facts(protocol: Protocol) -> dict[str, Any]:
    return {
        "name": protocol.name,
        "about": protocol.settings.about,
        "pattern": protocol.pattern.name,
        "places": len(protocol.pattern.places),
        "sha256": protocol.sha256,
        "notice": RESEARCH_ONLY,
    }


def _details(protocol: Protocol) -> dict[str, Any]:
    """Settings as in the file with every default written out, places of the right eye, counts."""
    from dataclasses import asdict

    import msgspec

    from protocols.explain import implied

    places = protocol.pattern.places
    return {
        "settings": msgspec.to_builtins(protocol.settings),
        "places_deg": [[round(place.x_deg, 6), round(place.y_deg, 6)] for place in places],
        "implied": asdict(implied(protocol)),
    }
