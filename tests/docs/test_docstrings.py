"""Every public function, class and method says what it is for, its shapes, units and errors.

Counted from the source itself. A function is spoken for by its own docstring, its class's, and that
of the interface whose method it fills.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from docstring_rules import (
    RAISES,
    SHAPE,
    SOURCE,
    UNITS,
    Spot,
    bare_numbers,
    functions,
    held_by_truths,
    is_command,
    public,
    raises_input_error,
    spoken_for,
    takes_arrays,
    words_for,
)

INTERFACES = spoken_for()
FUNCTIONS = [spot for spot in functions() if not is_command(spot)]
"""A command's docstring is its help page, which other tests look at."""

TOOLS = {
    "bundled_observer", "for_eye", "grade_folder", "implied", "linear", "load_observer",
    "load_protocol", "load_reference", "mean_db", "parse_protocol", "polar_place", "read",
}  # fmt: skip
"""What truth tests use to get at what they hold: readers, and what is so by definition."""


def _missing(those: list[Spot], said) -> set[str]:
    print(f"{len(those)} looked at")
    return {f"{s.file} {s.name}" for s in those if not said.search(words_for(s, INTERFACES))}


def test_everything_public_has_a_docstring():
    found = public()
    print(f"{len(found)} public classes, functions and methods")
    assert len(found) > 1500
    assert [spot.where for spot in found if not spot.said] == []


def test_who_raises_an_input_error_says_so():
    those = [spot for spot in FUNCTIONS if raises_input_error(spot)]
    assert len(those) > 100
    assert _missing(those, RAISES) == set()


def test_who_takes_or_gives_arrays_says_their_shapes():
    those = [spot for spot in FUNCTIONS if takes_arrays(spot)]
    assert len(those) > 250
    assert _missing(those, SHAPE) == set()


def test_numbers_whose_names_carry_no_unit_have_it_in_words():
    those = [spot for spot in FUNCTIONS if bare_numbers(spot)]
    assert len(those) > 150
    assert _missing(those, UNITS) == set()


def test_what_is_held_against_a_source_names_it():
    """In its own docstring or its file's: an author and year, a standard, or how it is computed."""
    those = [spot for spot in held_by_truths() if spot.name not in TOOLS]
    print(f"{len(those)} looked at")
    assert len(those) > 25
    silent = {f"{s.file} {s.name}" for s in those if not SOURCE.search(s.said_around)}
    assert silent == set()


def test_the_rules_find_what_is_missing():
    """A function that says nothing of shapes, units and errors is caught by each rule."""
    bad = functions_of(SILENT)
    assert [spot.name for spot in bad] == ["area"]
    assert raises_input_error(bad[0])
    assert takes_arrays(bad[0])
    assert bare_numbers(bad[0]) == ["values", "width", "return"]
    for rule in (RAISES, SHAPE, UNITS):
        assert not rule.search(words_for(bad[0], {}))
        assert rule.search(SPOKEN)


SILENT = '''
def area(values: Floats, width: float) -> float:
    """How large it is."""
    if width < 0:
        raise InputError("width", width, "0 and up", "Give another.")
    return float(values.sum()) * width
'''
SPOKEN = "Area in cm of values (n,); raises InputError for a width below 0."


def functions_of(source: str) -> list[Spot]:
    import ast

    return [Spot("silent.py", n.name, n, ()) for n in ast.parse(source).body]
