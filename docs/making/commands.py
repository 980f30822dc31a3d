"""The command line as pages, from the commands themselves."""

from __future__ import annotations

from collections.abc import Iterator

import click

from making.words import cell, code, plain, table
from stimulus.cli import COMMANDS, cli
from stimulus.commands.base import allowed_of

INTRODUCTION = """\
# Commands

Made from the program's own help. Exit codes: 0 done, 1 the thing checked is bad, 2 wrong input, 130
stopped by the operator. Every command tells more with `--help`.
"""


def page() -> str:
    """One section a command."""
    context = click.Context(cli, info_name="ripplefield")
    names = [[f"[{code(name)}](#{name})", cell(words)] for name, words in COMMANDS.items()]
    summary = table(["command", "for"], names)
    parts = [INTRODUCTION, summary]
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        parts += _section(command, click.Context(command, context, name), f"({name})=\n## {name}")
    return "\n\n".join(parts) + "\n"


def _section(command: click.Command, context: click.Context, title: str) -> Iterator[str]:
    yield title
    usage = " ".join([context.command_path, *command.collect_usage_pieces(context)])
    yield f"```text\n{usage}\n```"
    yield "\n\n".join(plain(part) for part in (command.help or "").split("\n\n"))
    rows = [_row(p) for p in command.params if not getattr(p, "hidden", False)]
    if rows:
        yield table(["option", "takes", "without it", "what it is for"], rows)
    if command.epilog:
        yield f"Example:\n\n```text\n{_example(command)}\n```"
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                deeper = click.Context(inner, context, name)
                yield from _section(inner, deeper, f"### {context.info_name} {name}")


def _example(command: click.Command) -> str:
    words = " ".join((command.epilog or "").split())
    return words.partition("Example:")[2].strip() or words


def _row(param: click.Parameter) -> list[str]:
    names = ", ".join(code(name) for name in [*param.opts, *param.secondary_opts])
    if isinstance(param, click.Argument):
        return [code(param.human_readable_name), cell(allowed_of(param)), _without(param), " "]
    takes = "" if getattr(param, "is_flag", False) else cell(allowed_of(param))
    return [names, takes, _without(param), cell(str(getattr(param, "help", "") or ""))]


def _without(param: click.Parameter) -> str:
    if param.required:
        return "must be given"
    default = param.default
    nothing = default is None or default is False or repr(default).startswith("Sentinel")
    return " " if nothing or callable(default) else cell(str(default))
