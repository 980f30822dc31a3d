"""Help: at once, with an example, and with what the program is not for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from command_desk import say

from protocols import RESEARCH_ONLY
from stimulus.cli import COMMANDS

HEAVY = ("psychopy", "pyglet", "numpy", "scipy", "matplotlib", "serial", "msgspec", "rich")
PAGES = [[], *([name] for name in COMMANDS), ["protocols", "show"]]


@pytest.mark.parametrize("words", PAGES, ids=lambda words: " ".join(words) or "ripplefield")
@pytest.mark.parametrize("option", ["--help", "-h"])
def test_every_page_has_an_example_and_the_research_line(
    words: list[str], option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = say([*words, option], capsys)
    assert (said.code, said.errors) == (0, "")
    text = " ".join(said.output.split())
    assert "Example: ripplefield " in text
    assert text.endswith(RESEARCH_ONLY)
    assert text.startswith(f"Usage: {' '.join(['ripplefield', *words])} ")


def test_every_option_says_what_it_is_for(capsys: pytest.CaptureFixture[str]) -> None:
    for words in PAGES:
        lines = say([*words, "--help"], capsys).output.splitlines()
        begin = lines.index("Options:") + 1
        options = [n for n in range(begin, lines.index("", begin)) if lines[n].startswith("  -")]
        for n in options:
            alone = len(lines[n].split("  ")) < 3  # its words then stand on the next line
            assert not alone or lines[n + 1].startswith("      "), lines[n]


def test_the_list_of_commands_is_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    text = " ".join(say(["--help"], capsys).output.split())
    for name, about in COMMANDS.items():
        assert f"{name} {about}" in text


@pytest.mark.parametrize("words", PAGES, ids=lambda words: " ".join(words) or "ripplefield")
def test_help_imports_nothing_heavy(words: list[str]) -> None:
    code = (
        "import sys\n"
        "from stimulus.cli import run\n"
        f"run({[*words, '--help']!r})\n"
        f"print('loaded:', sorted(set({HEAVY!r}) & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.splitlines()[-1] == "loaded: []"


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    from protocols import __version__

    assert say(["--version"], capsys).output == f"ripplefield, version {__version__}\n"
