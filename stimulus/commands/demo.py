"""`ripplefield demo`: the whole job on an invented scenario."""

from __future__ import annotations

import click

from protocols import RESEARCH_ONLY
from stimulus.commands.base import Command
from stimulus.commands.parameters import Number, Words


@click.command(cls=Command, epilog="Example: ripplefield demo --out demo")
@click.option(
    "--out",
    type=Words("a folder that does not exist yet"),
    default="ripplefield-demo",
    show_default=True,
    metavar="DIR",
    help="Folder for records and pages; it must be new.",
)
@click.option(
    "--seed",
    type=Number(0, 2**31, "Give a whole number.", whole=True),
    default="1",
    show_default=True,
    help="Fixes everything but the real window's timing.",
)
def command(out: str, seed: float) -> int:
    """Examine invented participants, one in a real window; measure a display; write pages."""
    from pathlib import Path

    from protocols.folder import require_new
    from stimulus.demo import DISPLAY, measure_display, run_demo

    folder = require_new(Path(out))
    click.echo(f"Invented participants only. {RESEARCH_ONLY}", err=True)
    done = list(run_demo(folder, int(seed), _tell))
    for one in done:
        click.echo(f"{one.page}  ({one.how}; hidden truth: {one.person.hidden_truth})")
        for eye in one.result.eyes.values():
            click.echo(f"    {eye.sentence}")
        if not one.result.exam.finished:
            click.echo(f"    not finished: {one.result.exam.reason}")
    measured = measure_display(folder, int(seed), _tell)
    click.echo(f"{measured.certificate}  (certificate of the simulated display {DISPLAY})")
    click.echo("    What light it shows, how well that is known, what it supports, when it lapses.")
    click.echo(f"{measured.page}  (its page; no light was measured)")
    click.echo("    Gamma, contrast range, frame intervals, panel response, uniformity, angles.")
    click.echo(done[0].result.reference.notice)
    click.echo(RESEARCH_ONLY)
    return 0 if all(one.result.exam.finished for one in done) else 1


def _tell(text: str) -> None:
    click.echo(text, err=True)
