"""Small functions, small files: what lets a reader hold one idea at a time."""

from __future__ import annotations

import ast
import statistics

from source import all_files, name_of, tree_of

LONGEST_FUNCTION = 60
LONGEST_FILE = 400


def _functions() -> dict[str, int]:
    """Lines of every function, by file and name."""
    return {
        f"{name_of(path)}:{node.lineno} {node.name}": node.end_lineno - node.lineno + 1
        for path in all_files()
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }


def test_no_function_is_longer_than_sixty_lines():
    long = {name: lines for name, lines in _functions().items() if lines > LONGEST_FUNCTION}
    assert not long


def test_nine_functions_in_ten_are_under_thirty_lines_and_half_under_ten():
    lengths = sorted(_functions().values())
    print(f"{len(lengths)} functions, median {statistics.median(lengths)} lines")
    assert statistics.median(lengths) < 10
    assert lengths[int(0.9 * len(lengths))] < 30


def test_no_file_is_longer_than_four_hundred_lines():
    lines = {name_of(path): len(path.read_text().splitlines()) for path in all_files()}
    assert not {name: count for name, count in lines.items() if count > LONGEST_FILE}


def test_every_module_says_what_it_is():
    silent = [name_of(path) for path in all_files() if not ast.get_docstring(tree_of(path))]
    assert not silent
