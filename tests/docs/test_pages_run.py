"""Every command and code block of the pages is run, and prints what the page says it prints."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import click
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from page_blocks import (
    README,
    REASONS,
    ROOT,
    RUN,
    Player,
    agrees,
    blocks,
    pages,
    steps,
    text_of,
)

from stimulus.cli import cli

PAGES = pages()
BLOCKS = [block for page in PAGES for block in blocks(page)]
PLAIN = ("text", "toml", "json", "csv", "html", "css", "")
ELSEWHERE = {"extending/index.md": "tests/plugins/test_examples.py"}
"""Pages whose blocks another test runs, with that test."""
HERE = [page for page in PAGES if page not in ELSEWHERE]
WITH_BLOCKS = [p for p in HERE if any(b.language in RUN and not b.not_run for b in blocks(p))]
MOST_NOT_RUN = 10


@pytest.mark.parametrize("page", WITH_BLOCKS)
def test_a_page_does_what_it_says(page, desk, display):
    player = Player(*desk(page))
    for block in blocks(page):
        player.play(block)


def test_blocks_that_are_not_run_are_few_and_say_why():
    left_out = [block for block in BLOCKS if block.not_run]
    run = [block for block in BLOCKS if block.language in RUN and not block.not_run]
    print(f"{len(run)} blocks run, {len(left_out)} not: {[(b.where, b.not_run) for b in left_out]}")
    assert {block.not_run for block in left_out} <= set(REASONS)
    assert len(left_out) <= MOST_NOT_RUN
    assert len(run) > 30


def test_every_block_is_of_a_known_kind():
    unknown = [b.where for b in BLOCKS if b.language not in (*RUN, *PLAIN)]
    assert unknown == []
    assert all(Path(ROOT / test).exists() for page, test in ELSEWHERE.items() if page in PAGES)


def _commands() -> list[tuple[str, str]]:
    """Every `ripplefield ...` of the pages and the README: in blocks, run or not, and in words."""
    found = []
    for block in [*BLOCKS, *blocks(README)]:
        shown = [command for command, _ in steps(block)] if block.language == "console" else []
        shown += re.sub(r"\\\n", " ", block.text).splitlines() if block.language == "sh" else []
        found += [(block.where, line) for line in shown if line.startswith("ripplefield ")]
    for page in PAGES:
        for words in re.findall(r"`(ripplefield [^`\n]+)`", text_of(page)):
            found.append((page, words))
    return found


@pytest.mark.parametrize(("where", "line"), _commands(), ids=lambda text: text[:60])
def test_every_command_named_exists_with_its_options(where, line):
    """Those that are not run too: no option is named that the program does not know."""
    words = shlex.split(re.split(r" (?:\||>|&&|;) ?", line.replace("\\\n", " "))[0])[1:]
    context, command = click.Context(cli, info_name="ripplefield"), cli
    while isinstance(command, click.Group) and words and words[0][0].islower():
        deeper = command.get_command(context, words[0])
        assert deeper is not None, f"{where}: no command {words[0]}"
        context, command, words = click.Context(deeper, context), deeper, words[1:]
    known = {name for option in command.params for name in option.opts} | {"--help", "--version"}
    assert {word.split("=")[0] for word in words if word.startswith("--")} <= known, where


def test_the_comparison_finds_what_differs():
    assert agrees("a\nb\nc\n", "a\n…\nc\n")
    assert agrees("took 3.2 s\n", "took … s\n")
    assert not agrees("a\nb\n", "a\n")
    assert not agrees("a\n", "b\n")
    assert not agrees("a\nx\n", "…\nc\n")
