"""`ripplefield pilot`: protocols compared on simulated people."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command, without_folders
from stimulus.commands.crew import cluster_option, crew_for, workers_option
from stimulus.commands.parameters import Number, Words

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.piloting.result import Origin, PilotResult
    from analysis.piloting.run import Pilot


@click.command(cls=Command, epilog="Example: ripplefield pilot plan.toml --out pilot")
@click.argument("plan", metavar="PLAN.toml", type=Words("a plan, .toml"))
@click.option(
    "--out",
    required=True,
    type=Words("a folder for the pilot"),
    metavar="DIR",
    help="Where result, tables and page go; made if it is not there.",
)
@click.option(
    "--seed",
    type=Number(0, 2**31 - 1, "Leave it out for the plan's.", whole=True),
    metavar="N",
    help="Instead of the plan's seed.",
)
@workers_option
@cluster_option
@click.option("--json", "as_json", is_flag=True, help="Print pilot.json.")
def command(
    plan: str,
    out: str,
    seed: int | None,
    workers: int | None,
    cluster: str | None,
    as_json: bool,
) -> int:
    """Compare the protocols of PLAN.toml on an invented population, and write a page about it.

    Time, error, spread of repeats, detection, slips; which protocols are dominated. Stopped with
    Ctrl-C or killed, the same command goes on where it was, and the result is the same.
    """
    from pathlib import Path

    from analysis.piloting.evaluate import evaluate
    from analysis.piloting.run import require_free, run_pilot
    from analysis.piloting.writing import result_bytes, write_pilot
    from stimulus.lookouts import exams_bar

    crew, folder = crew_for(workers, cluster), require_free(Path(out))
    pilot = _pilot(Path(plan), seed)
    origin = _origin(pilot, f"ripplefield pilot {without_folders(plan)} --out DIR", seed)
    with exams_bar(sum(piece.count * piece.repeats for piece in pilot.pieces())) as watch:
        kept = run_pilot(pilot, folder, crew, _facts(origin, pilot), watch)
    result = evaluate(pilot, kept, origin)
    write_pilot(folder, result, pilot)
    kept.remove()
    click.echo(result_bytes(result), nl=False) if as_json else _say(folder, result)
    return 0


def _pilot(path: Path, seed: int | None) -> Pilot:
    import msgspec

    from analysis.piloting.crowd import crowd_of, require_both_kinds
    from analysis.piloting.plan import load_plan
    from analysis.piloting.run import Pilot
    from analysis.piloting.variants import variants_of

    plan, text = load_plan(path)
    if seed is not None:
        plan = msgspec.structs.replace(plan, seed=seed)
    variants = variants_of(plan, path.name, path.parent)
    crowd = crowd_of(plan.people, plan.seed, plan.population, variants)
    require_both_kinds(crowd, path.name)
    return Pilot(plan, text, path.name, variants, crowd)


def _origin(pilot: Pilot, command: str, seed: int | None) -> Origin:
    from analysis.piloting.result import Origin
    from analysis.reference import load_reference
    from protocols.files import sha256_hex
    from stimulus.simulation import counting_versions

    reference = load_reference()
    chosen = "" if seed is None else f" --seed {seed}"
    return Origin(
        plan=pilot.plan_name,
        plan_sha256=sha256_hex(pilot.plan_text.encode()),
        reference=reference.file.name,
        reference_sha256=reference.sha256,
        reference_notice=reference.file.notice,
        versions=counting_versions(variant.protocol for variant in pilot.variants),
        commands=[f"{command}{chosen}"],
    )


def _facts(origin: Origin, pilot: Pilot) -> dict[str, object]:
    """What makes a pilot what it is: the same facts, the same result."""
    return {
        "plan_sha256": origin.plan_sha256,
        "protocols_sha256": [variant.protocol.sha256 for variant in pilot.variants],
        "reference_sha256": origin.reference_sha256,
        "seed": pilot.plan.seed,
        "versions": origin.versions,
    }


def _say(folder: Path, result: PilotResult) -> None:
    from analysis.piloting.words import dominated_sentences, order_sentences, tagged
    from analysis.piloting.writing import PAGE
    from protocols import RESEARCH_ONLY

    click.echo(f"{folder}: {result.exams:,} simulated exams of {result.people:,} invented people")
    for label, name in tagged(list(result.objectives)).items():
        if name != label:
            click.echo(f"  {name}")
    for sentence in (*dominated_sentences(result)[:2], *order_sentences(result)):
        if sentence:
            click.echo(f"  {sentence}")
    click.echo(f"page: {folder / PAGE}")
    click.echo(result.simulated)
    click.echo(RESEARCH_ONLY)
