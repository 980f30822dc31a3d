"""`ripplefield run`: examine a participant in a real window."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from stimulus.commands.base import Command, without_folders
from stimulus.commands.parameters import Number, OneOf, Size, Words

if TYPE_CHECKING:
    from pathlib import Path

    from protocols.exam import ExamState
    from protocols.library import Protocol
    from stimulus.opening import Sitting
    from stimulus.runner import Setup

DISTANCE_TODO = "Measure from the eye to the fixation mark."
ONLY_AT_THE_START = (
    "protocol",
    "participant",
    "age",
    "eye",
    "out",
    "windowed",
    "distance",
    "screen_width",
    "display",
    "seed",
    "safety_confirmed_by",
    "reference",
    "skip_practice",
)
WIDTH_TODO = "Measure the lit width that the window covers with a ruler."


@click.command(
    cls=Command,
    epilog="Example: ripplefield run screen-19 --participant P-017 --age 45 --eye both "
    "--out exams/P-017 --distance 40 --screen-width 60 --safety-confirmed-by AB"
)
@click.argument("protocol", required=False)
@click.option(
    "--participant",
    type=Words("a code such as P-017"),
    metavar="CODE",
    help="A code, never a name: P-017.",
)
@click.option(
    "--age",
    type=Number(5, 110, "Give the age in whole years.", whole=True, unit="years"),
    help="Whole years.",
)
@click.option("--eye", type=OneOf(["right", "left", "both"]), help="Which eye, or both.")
@click.option(
    "--out",
    type=Words("a folder that does not exist yet"),
    metavar="DIR",
    help="Folder for the record; it must be new.",
)
@click.option(
    "--button",
    type=Words("keyboard, serial:PORT or simulated:OBSERVER.toml"),
    metavar="BUTTON",
    help="keyboard (default), serial:PORT or simulated:OBSERVER, a .toml file or the name of an "
    "invented one, such as healthy.",
)
@click.option(
    "--display",
    type=Words("a display's certificate"),
    metavar="CERT.json",
    help="The display's certificate, for --distance and --screen-width; see calibrate.",
)
@click.option(
    "--windowed",
    type=Size(),
    metavar="WxH",
    help="Run in a window of this size, not full screen.",
)
@click.option("--distance", type=Number(10, 300, DISTANCE_TODO, unit="cm"), help="Eye to mark, cm.")
@click.option("--screen-width", type=Number(5, 500, WIDTH_TODO, unit="cm"), help="Lit width, cm.")
@click.option(
    "--screen",
    type=Number(0, 15, "Count screens from 0.", whole=True),
    default="0",
    help="Which screen, counted from 0.",
)
@click.option(
    "--seed",
    type=Number(0, 2**32 - 1, "Give a whole number.", whole=True),
    help="Fixes order, places and timing; drawn at random if left out.",
)
@click.option(
    "--safety-confirmed-by",
    type=Words("the operator's initials, 2 to 4 letters"),
    metavar="INITIALS",
    help="Who asked the photosensitivity question and heard no.",
)
@click.option(
    "--reference",
    type=Words("a reference file"),
    metavar="FILE",
    help="Age limits; the bundled synthetic ones if not.",
)
@click.option(
    "--resume",
    type=Words("the folder of an exam that is not finished"),
    metavar="DIR",
    help="Go on with an exam that was stopped or cut off.",
)
@click.option(
    "--start",
    type=OneOf(["press", "now"]),
    default="press",
    help="A press begins each eye (default), or it begins at once.",
)
@click.option(
    "--control",
    type=Words("a path for a socket"),
    metavar="PATH",
    help="Socket for commands from another program, such as the station.",
)
@click.option(
    "--lsl",
    is_flag=True,
    help="Send stimulus and press markers to other recorders (Lab Streaming Layer).",
)
@click.option(
    "--language",
    type=Words("a language's code, or its file"),
    metavar="CODE|FILE",
    help="Language of the window: en (default), es, fr, or a file such as say/ar.toml.",
)
@click.option(
    "--skip-practice",
    is_flag=True,
    help="No practice before the first eye: it counts as waived by whoever starts the exam.",
)
def command(resume: str | None, **given: Any) -> int:
    """Run PROTOCOL, a bundled name or a file. Escape stops, h holds, g goes on.

    Key n skips the eye, e explains the task again. Practice that was not passed is repeated with
    key p, or waived with key w.
    """
    return _resume(resume, given) if resume else _run(given)


def _control(given: dict[str, Any]) -> Path | None:
    from pathlib import Path

    from stimulus.buttons.control_channel import PARAMETER
    from stimulus.buttons.own_socket import require_place

    if given["control"] is None:
        return None
    path = Path(given["control"])
    require_place(path, PARAMETER)
    return path


def _beside(given: dict[str, Any]) -> dict[str, Any]:
    """What goes into a setup whether the exam is new or taken up; a wrong language is refused."""
    from stimulus.words import words_for

    if given["language"] is not None:
        words_for(given["language"])
    return {"control": _control(given), "lsl": given["lsl"], "language": given["language"]}


def _run(given: dict[str, Any]) -> int:
    from dataclasses import replace
    from pathlib import Path

    from analysis.reference import load_reference, mean_db
    from protocols.folder import require_new
    from protocols.library import load_protocol

    _require_all(given)
    protocol = load_protocol(given["protocol"])
    reference = load_reference(Path(given["reference"]) if given["reference"] else None)
    sitting = _sitting(protocol, given)
    mean_db(reference, protocol.pattern.places, sitting.age_years)
    folder = require_new(Path(given["out"]))
    beside = _beside(given)
    setup = replace(_setup(given), **beside)

    from stimulus.runner import run_exam

    return _finish(folder, run_exam(folder, protocol, reference, sitting, setup))


def _resume(folder_name: str, given: dict[str, Any]) -> int:
    from dataclasses import replace
    from pathlib import Path

    from protocols.errors import InputError
    from stimulus.resume import load_unfinished, resume_exam, setup_of

    for key in ONLY_AT_THE_START:
        if given[key] not in (None, False):
            name = "PROTOCOL" if key == "protocol" else f"--{key.replace('_', '-')}"
            raise InputError(
                "--resume",
                f"--resume together with {name}",
                "--resume alone, with --button, --start or --language at most",
                f"Leave {name} out: the record has it already.",
            )
    folder = Path(folder_name)
    unfinished = load_unfinished(folder)
    setup = setup_of(unfinished, given["button"])
    setup = replace(setup, **_beside(given))
    return _finish(folder, resume_exam(unfinished, setup, given["start"] == "now"))


def _finish(folder: Path, state: ExamState) -> int:
    from analysis.grade import grade_folder
    from protocols.messages import Done
    from stimulus.words import stopped

    result = grade_folder(folder)
    for eye in result.eyes.values():
        click.echo(eye.sentence)
    click.echo(f"{result.display.words[0].upper()}{result.display.words[1:]}.")
    if result.reference.synthetic:
        click.echo(result.reference.notice)
    click.echo(f"{result.notice}\nrecord: {folder}\nnext: ripplefield report {folder}")
    if state.phase == "finished":
        return 0
    reason = state.action.reason if isinstance(state.action, Done) else state.phase
    click.echo(stopped(reason, folder), err=True)
    return 130 if "operator" in reason or "window" in reason else 1


def _require_all(given: dict[str, Any]) -> None:
    from protocols.errors import InputError

    wanted = {
        "protocol": (
            "PROTOCOL",
            "a bundled name or a file",
            "Add PROTOCOL. See: ripplefield protocols",
        ),
        "participant": ("--participant", "a code such as P-017", "Add --participant CODE."),
        "age": ("--age", "whole years from 5 to 110", "Add --age YEARS."),
        "eye": ("--eye", "right, left or both", "Add --eye both."),
        "out": ("--out", "a new folder", "Add --out DIR."),
        "distance": ("--distance", "10 to 300 cm", f"Add --distance CM. {DISTANCE_TODO}"),
        "screen_width": ("--screen-width", "5 to 500 cm", f"Add --screen-width CM. {WIDTH_TODO}"),
    }
    measured = ("distance", "screen_width") if given["display"] else ()
    for key, (name, allowed, todo) in wanted.items():
        if given[key] is None and key not in measured:
            raise InputError(name, "", allowed, todo)


def _sitting(protocol: Protocol, given: dict[str, Any]) -> Sitting:
    import secrets

    from protocols.codes import require_code
    from protocols.plan import eyes_in_order
    from stimulus.opening import Sitting

    simulated = (given["button"] or "").startswith("simulated:")
    return Sitting(
        participant=require_code(given["participant"]),
        age_years=int(given["age"]),
        eyes=eyes_in_order(protocol, given["eye"]),
        seed=secrets.randbelow(2**32) if given["seed"] is None else int(given["seed"]),
        skip_practice=given["skip_practice"],
        start=given["start"],
        simulated=simulated,
        command=_command_line(),
        confirmed_by=confirmed(given["safety_confirmed_by"], simulated),
    )


def confirmed(initials: str | None, simulated: bool) -> str:
    """Who asked the photosensitivity question; raises InputError if nobody did."""
    from protocols.codes import require_initials
    from protocols.errors import InputError
    from protocols.practice import NOBODY
    from stimulus.opening import QUESTION

    if initials is not None:
        return require_initials(initials)
    if simulated:
        return NOBODY
    raise InputError(
        "--safety-confirmed-by",
        "",
        "the initials of the operator who asked the photosensitivity question",
        f'Ask: "{QUESTION}" Then add --safety-confirmed-by INITIALS.',
    )


def _setup(given: dict[str, Any]) -> Setup:
    from calibration.geometry import screen_of_width
    from stimulus.runner import Setup

    if given["display"]:
        return _certified_setup(given)
    size = given["windowed"]
    if size is None:
        from stimulus.window import display_size_px

        size = display_size_px(int(given["screen"]))
    width_px, height_px = size
    screen = screen_of_width(
        width_px, height_px, float(given["screen_width"]), float(given["distance"])
    )
    return Setup(
        screen, given["windowed"] is None, given["button"] or "keyboard", int(given["screen"])
    )


def _certified_setup(given: dict[str, Any]) -> Setup:
    from pathlib import Path

    from protocols.errors import InputError
    from stimulus.certified import load_for_running, screen_of
    from stimulus.runner import Setup

    for key in ("distance", "screen_width"):
        if given[key] is not None:
            name = f"--{key.replace('_', '-')}"
            raise InputError(
                name,
                f"{given[key]:g} beside --display",
                "one of the two",
                f"Leave {name} out: the certificate has it.",
            )
    found = load_for_running(Path(given["display"]))
    screen = screen_of(found)
    size, windowed = (screen.width_px, screen.height_px), given["windowed"]
    if windowed not in (None, size):
        raise InputError(
            "--windowed",
            "x".join(map(str, windowed)),
            f"{size[0]}x{size[1]}, as certified",
            "Give that size, or calibrate a window of the other size.",
        )
    button = given["button"] or "keyboard"
    return Setup(screen, windowed is None, button, int(given["screen"]), found)


def _command_line() -> str:
    """The command as typed, with file paths cut down to their names: a record holds no folders."""
    return " ".join(["ripplefield", *map(without_folders, sys.argv[1:])])
