"""`ripplefield calibrate`: measure a display into a certificate."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from protocols.errors import InputError
from stimulus.commands.base import Command, without_folders
from stimulus.commands.parameters import Number, Numbers, OneOf, Size, Words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from contextlib import AbstractContextManager

    from calibration.certificate import Certificate
    from protocols.plugins import PlugIn
    from stimulus.calibrating.bench import Bench, Progress

STEPS = ("geometry", "gamma", "timing", "flicker", "latency", "uniformity")
RULER_TODO = "Lay a ruler along the lit area, twice or more: 53.1,53.0"
TAPE_TODO = "Measure from the eye to the mark, twice or more: 40.0,40.2"
BLIND_SPOT = "blind-spot"
SIMULATED = "simulated:"


class TapeOrBlindSpot(Numbers):
    """Tape readings, or the word that asks for the blind-spot method."""

    @property
    def allowed(self) -> str:
        """What is allowed, in words."""
        return f"{super().allowed}, or {BLIND_SPOT}"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """The numbers, or the word; raises InputError."""
        if value == BLIND_SPOT:
            return value
        try:
            return super().convert(value, param, ctx)
        except InputError as error:
            raise InputError(error.parameter, error.given, self.allowed, TAPE_TODO) from error


@click.command(
    cls=Command,
    epilog="Example: ripplefield calibrate all --out screen.json "
    "--photometer simulated:office",
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
    type=Words("serial:PORT[:PROTOCOL.toml], manual, eye or simulated:NAME"),
    metavar="METER",
    help="serial:PORT[:PROTOCOL.toml], manual, eye or simulated:NAME (office, slow-panel, ten-bit, "
    "uneven, or a .toml file).",
)
@click.option("--width", type=Numbers(1, 500, RULER_TODO, unit="cm"), help="Lit width, cm, twice.")
@click.option("--height", type=Numbers(1, 500, RULER_TODO, unit="cm"), help="Lit height, cm.")
@click.option(
    "--distance",
    type=TapeOrBlindSpot(10, 300, TAPE_TODO, unit="cm"),
    metavar="CM,...",
    help="Eye to mark by tape, cm, twice; or blind-spot: dot sweeps, for the right eye.",
)
@click.option(
    "--card",
    type=Words("match, or settings of the outline in pixels, such as 324x204,325x204,323x205"),
    metavar="match",
    help="match: fit an outline to a bank card, by keys, instead of --width, --height; "
    "or its settings in pixels, WxH,WxH,WxH.",
)
@click.option("--windowed", type=Size(), metavar="WxH", help="Measure in a window of this size.")
@click.option(
    "--screen",
    type=Number(0, 15, "Count screens from 0.", whole=True),
    default="0",
    help="Which screen, counted from 0.",
)
@click.option(
    "--display-serial",
    type=Words("the display's serial number"),
    metavar="TEXT",
    help="As on the display's back.",
)
@click.option(
    "--meter-name",
    type=Words("the meter's name"),
    metavar="TEXT",
    help="Name of the meter, as entered.",
)
@click.option(
    "--meter-serial",
    type=Words("the meter's serial number"),
    metavar="TEXT",
    help="Serial number of the meter, as entered.",
)
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
    "--settle",
    type=Number(0, 600, "Slow panels and meters need more.", unit="s"),
    default="0.3",
    show_default=True,
    help="Wait after each change of light before the meter is read, seconds.",
)
@click.option(
    "--trace",
    type=Words("a photodiode's recording, .csv or .wav, or serial:PORT[:BAUD] of a photodiode"),
    metavar="FILE",
    help="Photodiode recording of the step sequence, or serial:PORT[:BAUD] of one that sends a "
    "number a line; without either the sequence is only shown.",
)
@click.option(
    "--trace-rate",
    type=Number(100, 1e6, "See the recorder's settings.", unit="Hz"),
    help="Samples a second of a .csv without times.",
)
@click.option(
    "--trace-channel",
    type=Words("left, right or a number from 1"),
    metavar="CHANNEL",
    help="left, right or a number from 1, for a .wav of several channels.",
)
@click.option(
    "--trace-scale",
    type=Numbers(-1e9, 1e9, "See the recorder's data sheet: 0,1023 for 10 bits."),
    metavar="LOW,HIGH",
    help="Lowest and highest value the recorder can give; without it a flat end counts as clipped.",
)
@click.option(
    "--rig",
    type=Words("serial:PORT of the loop-back rig's output"),
    metavar="PORT",
    help="Loop-back rig: serial:PORT of an output that closes the button; a photodiode does too.",
)
@click.option(
    "--button",
    type=Words("keyboard or serial:PORT"),
    metavar="BUTTON",
    help="For latency and the blind spot.",
)
@click.option(
    "--warm-up",
    type=Number(20, 600, "Half an hour or more from switching on; an hour is usual.", unit="min"),
    metavar="MINUTES",
    help="Before uniformity: read the photometer all that time from switching on.",
)
@click.option(
    "--contrast-map",
    is_flag=True,
    help="Uniformity: read full and no light at every point too.",
)
@click.option(
    "--protocol",
    type=Words("a bundled name or the path of a .toml file"),
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
    from stimulus.calibrating.job import require_certificate_place, run_steps
    from stimulus.calibrating.kept import beside
    from stimulus.calibrating.steps import Wish

    path, names = Path(out), STEPS if step == "all" else (step,)
    require_certificate_place(path)
    stimulus = load_protocol(protocol).settings.stimulus
    wish = Wish(stimulus, int(seed), beside(path, "readings"))
    given = {**given, "out": path, "display_serial": given["display_serial"] or ""}
    plugins = _plugins(given)
    with _open_bench(given, names, int(seed)) as bench, _progress(given, names) as progress:
        done = run_steps(names, bench, path, wish, _command_line(), progress, plugins)
    _say(done, out)
    return 0


@contextmanager
def _open_bench(given: dict[str, Any], names: tuple[str, ...], seed: int) -> Iterator[Bench]:
    """The bench that the options describe; raises InputError."""
    from stimulus.calibrating.given import Given, refuse_missing, said_of

    if _simulated(given):
        from calibration.simulated import load_simulated
        from stimulus.calibrating.simulated_bench import SimulatedBench

        name = given["photometer"].removeprefix(SIMULATED)
        with said_of("--photometer"):
            display = load_simulated(name)
        yield SimulatedBench(display, seed)
        return
    from stimulus.calibrating.beforehand import refuse_wrong
    from stimulus.calibrating.window_bench import open_window_bench

    refuse_missing(Given(**given), names)
    refuse_wrong(Given(**given))
    with open_window_bench(given, seed) as bench:
        yield bench


def _progress(
    given: dict[str, Any], names: tuple[str, ...]
) -> AbstractContextManager[Progress]:
    """A bar, or lines where somebody may have to type in between."""
    from stimulus.calibrating.progress import measuring, measuring_with_prompts

    typed = given["photometer"] == "manual" or {"flicker", "uniformity"} & {*names}
    return measuring_with_prompts() if typed and not _simulated(given) else measuring(names)


def _plugins(given: dict[str, Any]) -> list[PlugIn | None]:
    """The instruments that other packages bring."""
    from calibration import instruments
    from stimulus import buttons

    meter, button = given["photometer"] or "", given["button"] or ""
    return [instruments.plug_in_named(meter), buttons.plug_in_named(button)]


def _simulated(given: dict[str, Any]) -> bool:
    return bool(given["photometer"]) and given["photometer"].startswith(SIMULATED)


def _command_line() -> str:
    import shlex
    import sys

    return shlex.join(["ripplefield", *map(without_folders, sys.argv[1:])])


def _say(done: Certificate, out: str) -> None:
    from calibration.explain import in_words

    click.echo(in_words(done))
    click.echo(f"certificate: {out}\nnext: ripplefield report {out}")
