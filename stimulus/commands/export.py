"""`ripplefield export`: exams in formats that other programs read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.base import Command, Group
from stimulus.commands.parameters import EXAM_FOLDERS, Number, Words

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.export.dicom.send import Node
    from protocols.plugins import PlugIn

OUT = click.option(
    "--out",
    required=True,
    type=Words("a folder that does not exist yet"),
    metavar="DIR",
    help="The new folder; it appears when all of it is written.",
)
FOLDERS = click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=EXAM_FOLDERS)


class Exports(Group):
    """Ripplefield's own exports, and those that plug-ins bring, each loaded when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Own ones first."""
        from protocols.plugins import names

        return [*self.commands, *names("export", self.commands)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The export of this name, or None; raises InputError for a plug-in that takes a name."""
        from protocols.plugins import find

        plugin = find("export", cmd_name, self.commands)
        return super().get_command(ctx, cmd_name) if plugin is None else _plugged(plugin)


@click.group(cls=Exports, epilog="Example: ripplefield export bids exams/* --out dataset")
def command() -> None:
    """Write exams as BIDS, DICOM or FHIR, or as a plug-in does, into a new folder."""


@command.command(cls=Command, epilog="Example: ripplefield export bids exams/* --out dataset")
@FOLDERS
@OUT
def bids(folders: tuple[str, ...], out: str) -> int:
    """Write the exams in DIR... as one BIDS dataset: participants, sessions, runs."""
    from pathlib import Path

    from analysis.export.bids.write import export_bids
    from stimulus.commands.parameters import exam_folders
    from stimulus.export_bar import export_bar

    chosen = exam_folders(folders)
    with export_bar(len(chosen)) as watch:
        people = export_bids(chosen, Path(out), watch)
    _say(out, f"{_count(len(chosen), 'exam')} of {_count(people, 'participant')} as BIDS")
    return 0


@command.command(cls=Command, epilog="Example: ripplefield export dicom exams/P-017 --out dicom")
@FOLDERS
@OUT
@click.option(
    "--mean-luminance",
    type=Number(0.1, 10_000, "Give the mean grey of the screen.", unit="cd/m2"),
    metavar="CD_M2",
    help="Mean luminance of displays that were not measured; the files say it was stated.",
)
@click.option(
    "--send",
    type=Words("HOST:PORT of a DICOM node"),
    metavar="HOST:PORT",
    help="Send the files to a DICOM node too.",
)
@click.option(
    "--called",
    type=Words("the node's title"),
    metavar="AE",
    help="Application entity title of the node.",
)
@click.option(
    "--calling",
    type=Words("our title"),
    default="RIPPLEFIELD",
    show_default=True,
    metavar="AE",
    help="Application entity title of this program.",
)
def dicom(
    folders: tuple[str, ...],
    out: str,
    mean_luminance: float | None,
    send: str | None,
    called: str | None,
    calling: str,
) -> int:
    """Write the exams in DIR... as DICOM, experimental: one file an eye, and the sheet as PDF.

    The standard means luminance increments; these are contrast dB, and every file says so.
    """
    from pathlib import Path

    from analysis.export.dicom.write import export_dicom
    from stimulus.commands.parameters import exam_folders
    from stimulus.export_bar import export_bar

    chosen = exam_folders(folders)
    node = _node(send, called, calling)
    with export_bar(len(chosen)) as watch:
        files = export_dicom(chosen, Path(out), watch, mean_luminance)
    if node is not None:
        _send(files, node)
    _say(out, f"{_count(len(files), 'file')} of {_count(len(chosen), 'exam')} as DICOM")
    return 0


@command.command(cls=Command, epilog="Example: ripplefield export fhir exams/P-017 --out fhir")
@FOLDERS
@OUT
def fhir(folders: tuple[str, ...], out: str) -> int:
    """Write the exams in DIR... as FHIR R4 Observations, status preliminary: one file an eye."""
    from pathlib import Path

    from analysis.export.fhir.write import export_fhir
    from stimulus.commands.parameters import exam_folders
    from stimulus.export_bar import export_bar

    chosen = exam_folders(folders)
    with export_bar(len(chosen)) as watch:
        made = export_fhir(chosen, Path(out), watch)
    _say(out, f"{_count(made, 'Observation')} of {_count(len(chosen), 'exam')} as FHIR")
    return 0


def _plugged(plugin: PlugIn) -> click.Command:
    """The command of an export that another package brings."""

    def write(folders: tuple[str, ...], out: str) -> int:
        from pathlib import Path

        from analysis.export.plugged import export_plugged
        from stimulus.commands.parameters import exam_folders
        from stimulus.export_bar import export_bar

        chosen = exam_folders(folders)
        with export_bar(len(chosen)) as watch:
            files = export_plugged(plugin, chosen, Path(out), watch)
        _say(out, f"{_count(files, 'file')} of {_count(len(chosen), 'exam')} by {plugin.value}")
        return 0

    help_ = f"Write the exams in DIR... by the plug-in {plugin.name} of {plugin.value}."
    example = f"Example: ripplefield export {plugin.name} exams/* --out {plugin.name}"
    made = click.command(plugin.name, cls=Command, help=help_, epilog=example)(write)
    return FOLDERS(OUT(made))


def _node(send: str | None, called: str | None, calling: str) -> Node | None:
    """The node to send to, once it has answered."""
    from protocols.errors import InputError

    if send is None:
        if called is not None:
            allowed = "--called together with --send"
            raise InputError("--called", called, allowed, "Add --send HOST:PORT, or leave it out.")
        return None
    from analysis.export.dicom.send import parse_node, require_answer

    node = parse_node(send, called, calling)
    require_answer(node)
    return node


def _send(files: list[Path], node: Node) -> None:
    from analysis.export.dicom.send import send as send_all
    from stimulus.export_bar import export_bar

    with export_bar(len(files)) as watch:
        send_all(files, node, watch)
    click.echo(f"{node}: {_count(len(files), 'file')} sent")


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _say(out: str, what: str) -> None:
    from protocols import RESEARCH_ONLY

    click.echo(f"{out}: {what}")
    click.echo(RESEARCH_ONLY)
