"""Imports only go down the picture, and a display is needed by nothing but the window.

    protocols <- calibration, protocols <- analysis, all of them <- stimulus
"""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
import time

import pytest
from source import PACKAGES, ROOT, all_files, files, imports, name_of, tree_of

MAY_IMPORT = {
    "protocols": {"protocols"},
    "calibration": {"calibration", "protocols"},
    "analysis": {"analysis", "protocols"},
    "stimulus": set(PACKAGES),
}
NEEDS_DISPLAY = ("psychopy", "pyglet")
_DRAW = ("drawing", "window", "mark", "feedback", "message", "patch", "shader", "tiles")
DRAWING = {f"stimulus/{name}.py" for name in _DRAW}


def test_all_four_packages_are_looked_at():
    assert {name_of(path).split("/")[0] for path in all_files()} == set(PACKAGES)
    assert all(len(files(package)) >= 3 for package in PACKAGES)


@pytest.mark.parametrize("package", PACKAGES)
def test_imports_go_only_downwards(package):
    wrong = [
        f"{found.file} imports {found.module}"
        for path in files(package)
        for found in imports(path)
        if found.top in PACKAGES and found.top not in MAY_IMPORT[package]
    ]
    assert not wrong, "\n".join(wrong)


def test_no_import_is_relative():
    """`from . import x` would hide an arrow from the test above."""
    relative = [
        name_of(path)
        for path in all_files()
        for node in ast.walk(tree_of(path))
        if getattr(node, "level", 0)
    ]
    assert not relative


def test_only_the_window_and_the_files_that_draw_for_it_name_psychopy_or_pyglet():
    named = {
        found.file for path in all_files() for found in imports(path) if found.top in NEEDS_DISPLAY
    }
    assert "stimulus/window.py" in named
    assert named <= DRAWING, sorted(named - DRAWING)


def test_psychopy_is_only_imported_inside_functions():
    eager = [
        found.file
        for path in all_files()
        for found in imports(path)
        if found.top == "psychopy" and found.eager
    ]
    assert not eager


def test_files_that_load_pyglet_are_loaded_by_drawing_files_only():
    """A drawing file may import pyglet at its top as long as nobody loads it without a window."""
    heavy = {
        found.file
        for path in all_files()
        for found in imports(path)
        if found.top in NEEDS_DISPLAY and found.eager
    }
    modules = {file.removesuffix(".py").replace("/", ".") for file in heavy}
    wrong = [
        f"{found.file} loads {found.module}"
        for path in all_files()
        for found in imports(path)
        if found.eager and found.module in modules and found.file not in heavy
    ]
    assert heavy <= DRAWING - {"stimulus/window.py"}
    assert not wrong, "\n".join(wrong)


def _without_display(code: str) -> subprocess.CompletedProcess[str]:
    environment = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_everything_but_the_window_loads_without_a_display():
    """A fresh interpreter with no DISPLAY imports every module; none brings in psychopy."""
    names = [
        name_of(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        for package in ("protocols", "calibration", "analysis")
        for path in files(package)
    ]
    ran = _without_display(
        "import importlib, json, sys\n"
        f"for name in {[*names, 'stimulus.cli']!r}: importlib.import_module(name)\n"
        f"print(json.dumps([n for n in {NEEDS_DISPLAY!r} if n in sys.modules]))"
    )
    assert ran.returncode == 0, ran.stderr
    assert json.loads(ran.stdout) == []


def test_the_check_above_would_notice_pyglet():
    """The same question, asked of a drawing file, gets the other answer."""
    ran = _without_display("import sys, stimulus.mark; print('pyglet' in sys.modules)")
    assert ran.stdout.strip() == "True" or "display" in ran.stderr.lower()


HELP = (
    "import sys\n"
    "from stimulus.cli import run\n"
    "code = run({arguments!r})\n"
    "heavy = [n for n in ('psychopy', 'pyglet', 'numpy', 'scipy', 'matplotlib') "
    "if n in sys.modules]\n"
    "print('LOADED', code, heavy)"
)


def test_help_loads_nothing_heavy():
    ran = _without_display(HELP.format(arguments=["--help"]))
    assert "Research use only" in ran.stdout
    assert ran.stdout.splitlines()[-1] == "LOADED 0 []", ran.stdout + ran.stderr


@pytest.mark.parametrize("command", ["demo", "run", "grade", "report", "verify", "schema"])
def test_help_of_each_command_needs_no_display(command):
    ran = _without_display(HELP.format(arguments=[command, "--help"]))
    last = ran.stdout.splitlines()[-1]
    assert last.startswith("LOADED 0"), ran.stdout + ran.stderr
    assert "psychopy" not in last
    assert "pyglet" not in last
    assert "Example: ripplefield" in ran.stdout


def test_help_answers_at_once():
    """Best of five, so that a busy machine does not decide; the bound is the design's own."""
    times_s = []
    for _ in range(5):
        start = time.perf_counter()
        assert _without_display(HELP.format(arguments=["--help"])).returncode == 0
        times_s.append(time.perf_counter() - start)
    print(f"ripplefield --help: best of five {min(times_s):.3f} s")
    assert min(times_s) < 0.3
