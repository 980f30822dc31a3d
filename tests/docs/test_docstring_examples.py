"""Every example in a docstring runs and gives what it shows."""

from __future__ import annotations

import doctest
import importlib
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from docstring_rules import ROOT, files

WITH_EXAMPLES = [
    path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".").removesuffix(".__init__")
    for path in files()
    if ">>>" in path.read_text()
]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_of_a_file(name, display):
    module = importlib.import_module(name)
    found = doctest.testmod(module)
    assert found.attempted > 0 or "+SKIP" in module.__doc__
    assert found.failed == 0


def test_there_are_many():
    print(f"{len(WITH_EXAMPLES)} files with examples")
    assert len(WITH_EXAMPLES) > 60
