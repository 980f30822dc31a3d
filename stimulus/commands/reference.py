"""`ripplefield reference`: age limits from a lab's own healthy exams."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from protocols import RESEARCH_ONLY
from stimulus.commands.base import Command, Group
from stimulus.commands.parameters import EXAM_FOLDERS, Words

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.reference import ReferenceFile
    from analysis.reference_build.build import Built
    from analysis.reference_build.check import Checked, Finding
    from analysis.reference_build.sample import Exam, Facts, Sample


@click.group(cls=Group, epilog="Example: ripplefield reference build healthy --out ours.toml")
def command() -> None:
    """Age limits from a lab's own healthy exams."""


@command.command(
    cls=Command, epilog="Example: ripplefield reference build healthy --out ours.toml"
)
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option(
    "--out",
    required=True,
    type=Words("a new .toml file"),
    metavar="REF.toml",
    help="The reference; a page of the same name, .html, is written beside it.",
)
@click.option(
    "--name",
    type=Words("a name for the reference"),
    metavar="NAME",
    help="What the reference is called; default: the file's name.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the reference as JSON.")
def build(folders: tuple[str, ...], out: str, name: str | None, as_json: bool) -> int:
    """Build a reference from the healthy exams in DIR..., with its page.

    A DIR that holds no exam itself stands for the exams right below it. Takes at least 59 people.
    """
    from pathlib import Path

    from analysis.plain_page.page import write_page
    from analysis.reference_build.build import build_reference, require_enough
    from analysis.reference_build.page import reference_page
    from analysis.reference_build.writing import reference_toml
    from protocols.write import write_whole
    from stimulus.commands.parameters import require_new_name
    from stimulus.lookouts import exams_bar

    target = Path(out)
    require_new_name(target, "--out", ".toml")
    sample, facts = _sample(folders)
    require_enough(sample)
    with exams_bar(len(sample), "people left out in turn") as watch:
        built = build_reference(sample, facts, name or target.stem, watch)
    write_whole(target, reference_toml(built.file).encode())
    page = write_page(reference_page(built), target.with_suffix(".html"))
    _print_json(built) if as_json else _say_built(built, target, page)
    return 0


@command.command(cls=Command, epilog="Example: ripplefield reference check ours.toml new-healthy")
@click.argument("reference", type=Words("a reference that was measured, .toml"), metavar="REF.toml")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(reference: str, folders: tuple[str, ...], as_json: bool) -> int:
    """Test a new healthy sample in DIR... against REF.toml. Exit 1 if its limits do not hold."""
    from pathlib import Path

    from analysis.reference import load_reference
    from analysis.reference_build.check import check_reference
    from stimulus.commands.parameters import exam_folders

    exam_folders(folders)
    chosen = load_reference(Path(reference))
    sample, facts = _sample(folders)
    found = check_reference(chosen, sample, facts)
    if as_json:
        _print_findings(found)
    else:
        _say_checked(found, chosen.file)
    return 0 if found.holds else 1


def _sample(folders: tuple[str, ...]) -> tuple[Sample, Facts]:
    from analysis.many import FEW, exams_below, on_each
    from analysis.reference_build.exams import read_healthy
    from analysis.reference_build.sample import gather
    from stimulus.commands.parameters import exam_folders
    from stimulus.lookouts import exams_bar

    chosen = exams_below(exam_folders(folders))
    found: list[Exam]
    if len(chosen) <= FEW:
        found = list(on_each(read_healthy, chosen))
    else:
        with exams_bar(len(chosen), "exams") as watch:
            found = list(on_each(read_healthy, chosen, watch=watch))
    return gather(found)


def _say_built(built: Built, target: Path, page: Path) -> None:
    from analysis.reference_build.words import tolerance_sentence

    measured = built.file.measured
    assert measured is not None
    click.echo(f"{target}: {built.file.about}")
    for one in measured.tolerances:
        click.echo(f"  {tolerance_sentence(one, measured.confidence)}")
    for odd in built.outliers:
        click.echo(f"  {odd.code}: {odd.reason} (mean {odd.mean_db:+.1f} dB)")
    for line in built.facts.left_out:
        click.echo(f"  not used: {line}")
    click.echo(f"page: {page}")
    click.echo(f"  {built.file.notice}")
    click.echo(RESEARCH_ONLY)


def _say_checked(found: Checked, file: ReferenceFile) -> None:
    verdict = "the limits hold" if found.holds else "THE LIMITS DO NOT HOLD"
    click.echo(f"{file.name}: {verdict} for {found.people} new people, {found.eyes} eyes")
    for one in found.findings:
        click.echo(f"  {_finding_text(one)}")
    click.echo(f"  {file.notice}")
    click.echo(RESEARCH_ONLY)


def _finding_text(one: Finding) -> str:
    from analysis.reference_build.words import percent, percent_range

    state = "holds" if one.holds else "DOES NOT HOLD"
    return (
        f"{percent(one.share)} limit {state}: {one.below} of {one.places} places below it, "
        f"{percent(one.rate)} (95 % interval {percent_range(one.interval)}); "
        f"stated {percent_range(one.stated)}"
    )


def _print_json(built: Built) -> None:
    import json

    import msgspec

    data = msgspec.to_builtins(built.file) | {"research_only": RESEARCH_ONLY}
    click.echo(json.dumps(data, indent=2, ensure_ascii=False))


def _print_findings(found: Checked) -> None:
    import json
    from dataclasses import asdict

    data = {
        "notice": RESEARCH_ONLY,
        "holds": found.holds,
        "people": found.people,
        "eyes": found.eyes,
        "findings": [asdict(one) | {"holds": one.holds} for one in found.findings],
    }
    click.echo(json.dumps(data, indent=2))
