"""Commands and groups whose usage errors are as clear as any other, and whose help ends alike."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

import click

from protocols import RESEARCH_ONLY
from protocols.errors import InputError

_EXTRA = re.compile(r"Got unexpected extra arguments? \((?P<words>.*)\)", re.DOTALL)


class Command(click.Command):
    """A command that raises InputError for a wrong option or argument."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Parse; raises InputError, or a click error that asks for the help page."""
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            raise explained(error, ctx) or error from None

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The example, then what the program is not for."""
        super().format_epilog(ctx, formatter)
        formatter.write_paragraph()
        with formatter.indentation():
            formatter.write_text(RESEARCH_ONLY)


class Group(Command, click.Group):
    """A group of such commands, which suggests the command that may have been meant."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command named first; raises InputError if there is none of that name."""
        known = self.list_commands(ctx)
        name = args[0]
        if name not in known and not name.startswith("-"):
            todo = f"{did_you_mean(name, known)}See: {ctx.command_path} --help"
            raise InputError("command", name, ", ".join(known), todo)
        return super().resolve_command(ctx, args)


def explained(error: click.UsageError, ctx: click.Context) -> InputError | None:
    """A usage error in the form of all others; None if click can say it better (the help page)."""
    see = f"See: {ctx.command_path} --help"
    if isinstance(error, click.NoSuchOption):
        return _no_such_option(error.option_name, ctx, see)
    if isinstance(error, click.MissingParameter) and error.param is not None:
        name = written(error.param)
        return InputError(name, "", allowed_of(error.param), f"Add {name.rstrip('.')}. {see}")
    if isinstance(error, click.BadOptionUsage):
        return _bad_usage(error.option_name, ctx, see)
    extra = _EXTRA.search(error.message)
    if extra:
        allowed = " ".join([ctx.command_path, *ctx.command.collect_usage_pieces(ctx)])
        todo = f"Remove it, or put words that belong together in quotation marks. {see}"
        return InputError("extra argument", extra["words"], allowed, todo)
    return None


def written(param: click.Parameter) -> str:
    """A parameter as it is written on the command line, without the marks of what may be left."""
    if isinstance(param, click.Option):
        return param.opts[0]
    return param.human_readable_name.replace("[", "").replace("]", "")


def allowed_of(param: click.Parameter) -> str:
    """What a parameter takes, in words; its type may know more than its metavar."""
    return str(getattr(param.type, "allowed", param.metavar or param.type.name))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A suggestion with a space after it, or nothing.

    >>> did_you_mean("rum", ["run", "demo"])
    'Did you mean run? '
    """
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"Did you mean {near[0]}? " if near else ""


def without_folders(word: str) -> str:
    """A word of the command as typed, with a file's path cut down to its name.

    A record holds no folders: they may tell who works here.

    >>> without_folders("/home/somebody/ours.toml"), without_folders("--seed")
    ('ours.toml', '--seed')
    """
    return word.replace("\\", "/").rsplit("/", 1)[-1]


def _no_such_option(name: str, ctx: click.Context, see: str) -> InputError:
    known = [opt for param in ctx.command.get_params(ctx) for opt in param.opts]
    options = [opt for opt in known if opt.startswith("--")]
    return InputError("option", name, ", ".join(options), f"{did_you_mean(name, options)}{see}")


def _bad_usage(name: str, ctx: click.Context, see: str) -> InputError:
    param = next((p for p in ctx.command.get_params(ctx) if name in p.opts), None)
    if param is None or getattr(param, "is_flag", False):
        return InputError(name, "a value", f"{name} alone", f"Leave the value out. {see}")
    return InputError(name, "", allowed_of(param), f"Write the value after {name}. {see}")
