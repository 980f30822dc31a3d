"""What makes the pages stays out of the tests' process: where it is loaded, pyglet is a mock."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]


def test_figures_of_lessons_are_loaded_without_what_makes_pages():
    program = (
        f"import sys; sys.path.insert(0, {str(TESTS)!r}); import lesson_figures as of\n"
        "[of.figure(name) for name in of.NAMES]\n"
        "assert 'sphinx' not in sys.modules, 'pyglet would switch itself off'"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60, cwd=TESTS.parent)
