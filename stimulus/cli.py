"""The command line: names and help only, so that `ripplefield --help` answers at once.

Each command lives in a file of `stimulus/commands` and is imported when it is used.
"""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence

import click
from click.exceptions import NoArgsIsHelpError

from protocols import __version__
from protocols.errors import InputError, Interrupted, RipplefieldError
from stimulus.commands.base import Group

COMMANDS = {
    "demo": "The whole job on an invented scenario, in a real window, with no person.",
    "run": "Examine a participant, or a simulated one, in a real window.",
    "simulate": "Run a protocol on a table of simulated observers, thousands of exams at once.",
    "pilot": "Compare protocols on an invented population, before people are booked.",
    "samples": "How many people a study takes: age limits, agreement, a difference.",
    "protocols": "List the bundled protocols, or explain one in words.",
    "calibrate": "Measure a display into a certificate.",
    "certify": "Explain what a certificate supports, and when it lapses.",
    "grade": "Grade exams: result.json and tables.",
    "reference": "Build age limits from a lab's own healthy exams, or check them.",
    "compare": "Compare the eyes of an exam, or a person's visits.",
    "report": "Write the page a person reads, as HTML or PDF.",
    "export": "Write exams as BIDS, DICOM or FHIR, for other programs.",
    "station": "The operator's pages on this machine: queue, live view, end of the day.",
    "learn": "Teaching cases: run an exam of, or read, an invented person; take part.",
    "verify": "Check that a record is what was written.",
    "sign": "Vouch for records with a lab's own key.",
    "scrub": "Copy records for sharing: new codes, shifted dates.",
    "schema": "Print the JSON Schema of a file format.",
}

EXIT_BAD, EXIT_INPUT, EXIT_INTERRUPTED = 1, 2, 130


class LazyGroup(Group):
    """A group that imports a command's file only when the command is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All names, in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, or None."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"stimulus.commands.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List commands from the table, importing none."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example: ripplefield demo --out demo",
)
@click.version_option(__version__, prog_name="ripplefield")
def cli() -> None:
    """Ripplefield, a research perimeter: flickering gratings, timed presses, graded loss."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit: 0 done, 1 bad, 2 wrong input, 130 interrupted."""
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code, and never shows a traceback for bad input."""
    try:
        result = cli.main(args=arguments, prog_name="ripplefield", standalone_mode=False)
    except NoArgsIsHelpError as error:
        click.echo(f"{error.format_message()}\n", err=True)
        return _say(str(_no_command()), EXIT_INPUT)
    except click.UsageError as error:
        return _say(f"{error.format_message()} {_see_help(error)}", EXIT_INPUT)
    except (Interrupted, click.Abort, KeyboardInterrupt) as error:
        return _say(str(error) or "stopped by the operator", EXIT_INTERRUPTED)
    except InputError as error:
        return _say(str(error), EXIT_INPUT)
    except RipplefieldError as error:
        return _say(str(error), EXIT_BAD)
    except BrokenPipeError:  # whoever read the output has had enough
        return _nobody_reads()
    except OSError as error:
        return _say(str(_refused_by_system(error)), EXIT_INPUT)
    return result if isinstance(result, int) else 0


def _nobody_reads() -> int:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return EXIT_BAD


def _refused_by_system(error: OSError) -> InputError:
    allowed = "a file or folder that can be used"
    return InputError("path", error.filename or "", allowed, f"The system says: {error.strerror}.")


def _no_command() -> InputError:
    return InputError("command", "", ", ".join(COMMANDS), "Name what to do.")


def _see_help(error: click.UsageError) -> str:
    path = error.ctx.command_path if error.ctx else "ripplefield"
    return f"See: {path} --help"


def _say(message: str, code: int) -> int:
    click.echo(f"error: {message}", err=True)
    return code
