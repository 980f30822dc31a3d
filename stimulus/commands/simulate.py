"""`ripplefield simulate`: a protocol on a table of simulated observers."""

from __future__ import annotations

import click

from stimulus.commands.base import Command
from stimulus.commands.crew import cluster_option, crew_for, workers_option
from stimulus.commands.parameters import Number, Words


@click.command(
    cls=Command,
    epilog="Example: ripplefield simulate bayes-19 --observers truth.csv --out results.csv",
)
@click.argument("protocol", type=Words("a bundled name or the path of a .toml file"))
@click.option(
    "--observers",
    required=True,
    type=Words("a table of observers, .csv or .parquet"),
    metavar="FILE",
    help="Who answers: one row a place, with the true sensitivity in dB.",
)
@click.option(
    "--out",
    required=True,
    type=Words("a new .csv or .parquet file"),
    metavar="FILE",
    help="The results, one row a place; .csv or .parquet.",
)
@click.option(
    "--seed",
    default=0,
    show_default=True,
    type=Number(0, 2**53, "Leave it out for 0.", whole=True),
    metavar="N",
    help="Same seed, same answers.",
)
@click.option(
    "--repeats",
    default=1,
    show_default=True,
    type=Number(1, 1_000_000, "Leave it out for 1.", whole=True),
    metavar="N",
    help="Exams of each observer's eye.",
)
@workers_option
@cluster_option
@click.option(
    "--reference",
    type=Words("a reference file"),
    metavar="FILE",
    help="Age limits, instead of the synthetic ones that come with the program.",
)
@click.pass_context
def command(
    ctx: click.Context,
    protocol: str,
    observers: str,
    out: str,
    seed: int,
    repeats: int,
    workers: int | None,
    cluster: str | None,
    reference: str | None,
) -> int:
    """Run PROTOCOL on simulated observers, thousands of exams at once; no person, no window.

    Each eye of each observer is an exam by itself. Stopped with Ctrl-C, the finished pieces are
    kept and the same command goes on. The same seed gives the same results whoever did the work.
    """
    from pathlib import Path

    from analysis.reference import load_reference
    from protocols.library import load_protocol
    from protocols.simulate.columns import require_suffix
    from protocols.simulate.run import simulate
    from stimulus.lookouts import exams_bar
    from stimulus.simulation import Asked, facts_of, make_study, write_about

    target = Path(out)
    require_suffix(target, "--out")
    crew = crew_for(workers, cluster)
    limits = load_reference(Path(reference) if reference else None)
    asked = Asked(Path(observers), seed, repeats)
    study = make_study(load_protocol(protocol), limits, asked)
    facts = facts_of(study, limits, asked)
    with exams_bar(study.exams) as watch:
        simulate(study, target, crew, facts, watch)
    write_about(target, facts, limits, f"ripplefield simulate {protocol}")
    _say(target, study.exams)
    return 0


def _say(target: object, exams: int) -> None:
    from protocols import RESEARCH_ONLY

    click.echo(f"{target}: {exams} simulated exams. No person was examined.")
    click.echo(RESEARCH_ONLY)
