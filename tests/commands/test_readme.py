"""What the README shows is what happens: every console block is run and compared, word for word."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from importlib import metadata
from pathlib import Path

import pytest
from demo_run import PROGRAM, Demo

README = (Path(__file__).parents[2] / "README.md").read_text()
BLOCKS = re.findall(r"^```console\n(.*?)^```", README, re.DOTALL | re.MULTILINE)
DEMO = "ripplefield demo --out demo --seed 1"


def steps(block: str) -> list[tuple[str, str]]:
    """Commands of a block with the output below each."""
    parts = re.split(r"^\$ (.*)\n", block, flags=re.MULTILINE)
    return list(zip(parts[1::2], parts[2::2], strict=True))


STEPS = [step for block in BLOCKS for step in steps(block)]


def test_there_is_something_to_check():
    assert DEMO in dict(STEPS)
    assert len(STEPS) >= 3


@pytest.mark.skipif(shutil.which("Xvfb") is None, reason="needs Xvfb")
def test_the_demo_prints_what_the_readme_says(demo: Demo):
    assert demo.output == dict(STEPS)[DEMO]


@pytest.mark.parametrize(
    ("command", "output"), [s for s in STEPS if s[0] != DEMO], ids=lambda text: text[:40]
)
def test_other_commands_print_what_the_readme_says(command: str, output: str, demo: Demo):
    """Run beside the demo's folder, so that a block may go on with it."""
    program, *arguments = shlex.split(command)
    assert program == "ripplefield"
    done = subprocess.run(
        [str(PROGRAM), *arguments],
        cwd=demo.folder.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == output, done.stderr


def test_both_long_commands_are_one_line_each_and_bring_their_packages():
    lines = [line for line in README.splitlines() if "apt-get install" in line]
    assert [("demo" in line, "pytest" in line) for line in lines] == [(True, False), (False, True)]
    assert all("-c constraints.txt" in line and "python3 -m venv" in line for line in lines)


def test_every_command_in_the_table_exists():
    from stimulus.cli import COMMANDS

    table = README.split("## Which command for what")[1].split("##")[0]
    named = re.findall(r"`([a-z]+)`", table)
    assert set(named) == set(COMMANDS)


def test_the_job_comes_first():
    paragraph = README.split("\n\n")[1]
    assert paragraph.startswith("Ripplefield is a research perimeter")
    assert "Research use only" in paragraph


def test_what_is_pinned_can_be_installed_on_every_python_it_is_pinned_for():
    """Debian 12 has Python 3.11.2, which some packages of today no longer take."""
    markers = pytest.importorskip("packaging.markers")
    requirements = pytest.importorskip("packaging.requirements")
    specifiers = pytest.importorskip("packaging.specifiers")
    debian = {"python_version": "3.11", "python_full_version": "3.11.2"}
    lines = (Path(__file__).parents[2] / "constraints.txt").read_text().splitlines()
    pinned = [requirements.Requirement(line) for line in lines if line[:1] not in ("", "#")]
    assert markers.Marker('python_version >= "3.11"').evaluate(debian)
    for one in pinned:
        if one.marker is not None and not one.marker.evaluate(debian):
            continue
        try:
            here = metadata.distribution(one.name)
        except metadata.PackageNotFoundError:
            continue
        wanted = here.metadata.get("Requires-Python") or ""
        if one.specifier.contains(here.version):
            assert specifiers.SpecifierSet(wanted).contains("3.11.2"), one
