"""`ripplefield samples`: how many people a lab's own study takes."""

from __future__ import annotations

import click

from protocols import RESEARCH_ONLY
from stimulus.commands.base import Command, Group
from stimulus.commands.parameters import Number

SHARE = Number(0.001, 0.5, "Write 0.01 for the level that 99 % of healthy people see.")
CONFIDENCE = Number(0.5, 0.999, "Leave it out for 0.95.")
DECIBELS = Number(0.01, 60, "Take it from a pilot or from earlier data.", unit="dB")
POWER = Number(0.5, 0.999, "Leave it out for 0.8.")
ALPHA = Number(0.0001, 0.5, "Leave it out for 0.05.")
RANK = Number(1, 1000, "Leave it out for 1, the lowest.", whole=True)


@click.group(
    cls=Group,
    epilog="Example: ripplefield samples difference --difference-db 1 --sd-db 2",
)
def command() -> None:
    """How many people a study takes: age limits, agreement, a difference."""


_confidence = click.option(
    "--confidence", default=0.95, show_default=True, type=CONFIDENCE, metavar="C",
    help="Confidence of the statement.",
)  # fmt: skip
_json = click.option("--json", "as_json", is_flag=True, help="Print the counts as JSON.")


@command.command(cls=Command, epilog="Example: ripplefield samples reference --share 0.05 --rank 2")
@click.option(
    "--share",
    default=0.01,
    show_default=True,
    type=SHARE,
    metavar="S",
    help="Share of healthy people below the limit.",
)
@click.option(
    "--rank",
    default=1,
    show_default=True,
    type=RANK,
    metavar="N",
    help="Take the N-th lowest person as the limit.",
)
@click.option("--sd-db", type=DECIBELS, metavar="DB", help="SD between healthy people.")
@click.option(
    "--within-db",
    type=DECIBELS,
    metavar="DB",
    help="How near the limit is to be known, either side; goes with --sd-db.",
)
@_confidence
@_json
def reference(
    share: float,
    rank: int,
    sd_db: float | None,
    within_db: float | None,
    confidence: float,
    as_json: bool,
) -> int:
    """People for age limits: without assumptions, and for normal levels to a precision."""
    from analysis.piloting.samples import limit_people, near_limit_people

    _require_both(sd_db, within_db)
    counts = {"people_without_assumptions": limit_people(share, rank, confidence)}
    lines = [
        f"{counts['people_without_assumptions']} people: no. {rank} from below is a limit that at "
        f"most {share:.3g} of all healthy people lie below, {confidence:.3g} sure, whatever the "
        "distribution (Wilks 1941)."
    ]
    if sd_db is not None and within_db is not None:
        counts["people_normal"] = near_limit_people(share, sd_db, within_db, confidence)
        lines.append(
            f"{counts['people_normal']} people: that limit to {within_db:g} dB either side, "
            f"{confidence:.3g} sure, if levels are normal with an SD of {sd_db:g} dB."
        )
    return _say(counts, lines, as_json)


@command.command(
    cls=Command, epilog="Example: ripplefield samples agreement --sd-db 1.5 --within-db 0.5"
)
@click.option("--sd-db", required=True, type=DECIBELS, metavar="DB", help="SD of differences.")
@click.option(
    "--within-db",
    required=True,
    type=DECIBELS,
    metavar="DB",
    help="How near the limits of agreement are to be known, either side.",
)
@_confidence
@_json
def agreement(sd_db: float, within_db: float, confidence: float, as_json: bool) -> int:
    """People examined twice for limits of agreement of a given precision."""
    from analysis.piloting.samples import agreement_pairs

    pairs = agreement_pairs(sd_db, within_db, confidence)
    line = (
        f"{pairs} people examined twice: limits of agreement to {within_db:g} dB either side, "
        f"{confidence:.3g} sure, if differences have an SD of {sd_db:g} dB (Bland & Altman 1986)."
    )
    return _say({"pairs": pairs}, [line], as_json)


@command.command(
    cls=Command, epilog="Example: ripplefield samples difference --difference-db 1 --sd-db 2"
)
@click.option(
    "--difference-db",
    required=True,
    type=DECIBELS,
    metavar="DB",
    help="True mean difference that is to be found.",
)
@click.option(
    "--sd-db",
    required=True,
    type=DECIBELS,
    metavar="DB",
    help="SD of a person's differences; with --groups, SD between people of a group.",
)
@click.option(
    "--power",
    default=0.8,
    show_default=True,
    type=POWER,
    metavar="P",
    help="Chance that the study finds it.",
)
@click.option(
    "--alpha",
    default=0.05,
    show_default=True,
    type=ALPHA,
    metavar="A",
    help="Chance that the test finds a difference where there is none.",
)
@click.option("--groups", is_flag=True, help="Two groups of people instead of one seen twice.")
@_json
def difference(
    difference_db: float, sd_db: float, power: float, alpha: float, groups: bool, as_json: bool
) -> int:
    """People to find a mean difference by a two-sided t test, paired or of two groups."""
    from analysis.piloting.samples import group_people, paired_people

    count = (group_people if groups else paired_people)(difference_db, sd_db, power, alpha)
    who = f"{count} people in each of two groups" if groups else f"{count} people examined twice"
    line = (
        f"{who}: a mean difference of {difference_db:g} dB is found {power:.3g} of the time "
        f"(two-sided t test, alpha {alpha:.3g}), if the SD is {sd_db:g} dB."
    )
    return _say({"people_in_each_group" if groups else "people": count}, [line], as_json)


def _require_both(sd_db: float | None, within_db: float | None) -> None:
    from protocols.errors import InputError

    if (sd_db is None) != (within_db is None):
        given, missing = ("--within-db", "--sd-db") if sd_db is None else ("--sd-db", "--within-db")
        raise InputError(
            given, "no " + missing, "both together or neither", f"Add {missing}, or leave it out."
        )


def _say(counts: dict[str, int], lines: list[str], as_json: bool) -> int:
    import json

    if as_json:
        click.echo(json.dumps({"notice": RESEARCH_ONLY, **counts}, indent=2))
        return 0
    for line in lines:
        click.echo(line)
    click.echo(RESEARCH_ONLY)
    return 0
