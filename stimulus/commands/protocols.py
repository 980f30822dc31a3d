"""`ripplefield protocols`: which protocols there are and what one does."""

from __future__ import annotations

import click

from protocols import RESEARCH_ONLY


@click.group(invoke_without_command=True, epilog="Example: ripplefield protocols show screen-19")
@click.pass_context
def command(ctx: click.Context) -> int:
    """List the bundled protocols."""
    if ctx.invoked_subcommand is None:
        from protocols.library import bundled_protocols, load_protocol

        for name in bundled_protocols():
            click.echo(f"{name:14} {load_protocol(name).settings.about}")
        click.echo(RESEARCH_ONLY)
    return 0


@command.command(epilog="Example: ripplefield protocols show screen-17")
@click.argument("protocol")
def show(protocol: str) -> int:
    """Explain PROTOCOL, a bundled name or a file, in words."""
    from protocols.explain import in_words
    from protocols.library import load_protocol

    click.echo(in_words(load_protocol(protocol)))
    click.echo(RESEARCH_ONLY)
    return 0
