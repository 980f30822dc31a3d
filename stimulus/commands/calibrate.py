"""`ripplefield calibrate`: measure a display into a certificate."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from stimulus.commands.base import Command
from stimulus.commands.parameters import Number, Numbers, OneOf, Size, Words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from calibration.certificate import Certificate
    from stimulus.calibrating.bench import Bench

STEPS = ("geometry", "gamma", "timing", "flicker", "latency", "uniformity")
RULER_TODO = "Lay a ruler along the lit area, twice or more: 53.1,53.0"
TAPE_TODO = "Measure from the eye to the mark, twice or more: 40.0,40.2"


@click.command(
    cls=Command,
    epilog="Example: ripplefield calibrate all --out screen.json "
    "--photometer simulated:screen.toml",
)
@click.argument("step", type=OneOf([*STEPS, "all"]), metavar="STEP")
@click.option(
    "--out",
    required=True,
    type=Words("the certificate's file, new or to go on with"),
    metavar="CERT.json",
    help="The certificate; a step is added to the file that is there.",
)
@click.option(
    "--photometer",
    type=Words("serial:PORT[:PROTOCOL.toml], manual, eye or simulated:FILE.toml"),
    metavar="METER",
    help="serial:PORT[:PROTOCOL.toml], manual, eye or simulated:FILE.toml.",
)
@click.option("--width", type=Numbers(1, 500, RULER_TODO, unit="cm"), help="Lit width, cm, twice.")
@click.option("--height", type=Numbers(1, 500, RULER_TODO, unit="cm"), help="Lit height, cm.")
@click.option("--distance", type=Numbers(10, 300, TAPE_TODO, unit="cm"), help="Eye to mark, cm.")
@click.option(
    "--card",
    type=Words("settings of the card's outline in pixels, such as 324x204,325x204,323x205"),
    metavar="WxH,...",
    help="A bank card's outline as matched on the screen, pixels, three times, for --width.",
)
@click.option("--windowed", type=Size(), metavar="WxH", help="Measure in a window of this size.")
@click.option(
    "--screen",
    type=Number(0, 15, "Count screens from 0.", whole=True),
    default="0",
    help="Which screen, counted from 0.",
)
@click.option("--display-serial", default="", metavar="TEXT", help="As on the display's back.")
@click.option("--meter-name", metavar="TEXT", help="Name of the meter, as entered.")
@click.option("--meter-serial", metavar="TEXT", help="Serial number of the meter, as entered.")
@click.option(
    "--meter-uncertainty",
    type=Number(1e-6, 0.5, "Give the standard uncertainty as a share, such as 0.02."),
    help="Relative standard uncertainty of the meter.",
)
@click.option(
    "--peak",
    type=Number(1, 100000, "See the display's data sheet.", unit="cd/m2"),
    help="Full white, cd/m2, for --photometer eye, which cannot tell.",
)
@click.option(
    "--trace",
    type=Words("a photodiode's recording of the flicker step, .csv or .wav"),
    metavar="FILE",
    help="Photodiode recording of the step sequence; without it the sequence is shown.",
)
@click.option(
    "--rig",
    type=Words("serial:PORT of the loop-back rig's output"),
    metavar="PORT",
    help="Loop-back rig: this serial output closes the button, a photodiode presses it too.",
)
@click.option(
    "--button", type=Words("keyboard or serial:PORT"), metavar="BUTTON", help="For latency."
)
@click.option(
    "--protocol",
    default="screen-19",
    show_default=True,
    metavar="PROTOCOL",
    help="Whose stimulus is meant: flicker rate, size.",
)
@click.option(
    "--seed",
    type=Number(0, 2**31, "Give a whole number.", whole=True),
    default="1",
    help="Fixes the order of readings.",
)
def command(step: str, out: str, protocol: str, seed: float, **given: Any) -> int:
    """Measure STEP (geometry, gamma, timing, flicker, latency, uniformity or all) of a display."""
    from pathlib import Path

    from protocols.library import load_protocol
    from stimulus.calibrating.job import run_steps
    from stimulus.calibrating.progress import measuring
    from stimulus.calibrating.steps import Wish

    path = Path(out)
    wish = Wish(load_protocol(protocol).settings.stimulus, int(seed), _readings_of(path))
    names = STEPS if step == "all" else (step,)
    with _open_bench(given, int(seed)) as bench, measuring(names) as progress:
        done = run_steps(names, bench, path, wish, _command_line(), progress)
    _say(done, out)
    return 0


@contextmanager
def _open_bench(given: dict[str, Any], seed: int) -> Iterator[Bench]:
    """The bench that the options describe; raises InputError."""
    from pathlib import Path

    from calibration.simulated import load_simulated
    from stimulus.calibrating.simulated_bench import SimulatedBench

    meter = given["photometer"] or ""
    if meter.startswith("simulated:"):
        yield SimulatedBench(load_simulated(Path(meter.removeprefix("simulated:"))), seed)
        return
    from stimulus.calibrating.window_bench import open_window_bench

    with open_window_bench(given, seed) as bench:
        yield bench


def _readings_of(out: Path) -> Path:
    """Where readings are kept until their fit is in the certificate."""
    return out.with_name(f"{out.name}.readings.jsonl")


def _command_line() -> str:
    import shlex
    import sys

    return shlex.join(["ripplefield", *sys.argv[1:]])


def _say(done: Certificate, out: str) -> None:
    from calibration.explain import in_words

    click.echo(in_words(done))
    click.echo(f"certificate: {out}\nnext: ripplefield report {out}")
