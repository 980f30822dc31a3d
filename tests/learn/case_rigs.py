"""Cases made in a line, for tests."""

from __future__ import annotations

from functools import cache

import msgspec

from protocols.cases.file import Case, CaseFile, bundled_cases, load_case
from protocols.cases.habits import REMEDY, habit_of
from protocols.cases.play import Act
from protocols.cases.setups import THING_OF
from stimulus.learn.room import Room, open_room

BUNDLED = bundled_cases()
CASE = """
format = 1
name = "mine"
about = "Invented."
level = 2
seed = 7
age_years = 50
"""


def case_of(**changes) -> Case:
    """A case with everything as it should be, and changes."""
    file = CaseFile(format=1, name="mine", about="Invented.", level=1, seed=5, age_years=50)
    return Case(msgspec.structs.replace(file, **changes), "")


def room_of(**changes) -> Room:
    return open_room(case_of(**changes))


@cache
def bundled(name: str) -> Room:
    return open_room(load_case(name))


def ideal_acts(room: Room) -> tuple[Act, ...]:
    """What an operator does who knows the truth: mend first, speak at once, run to the end."""
    truth = room.truth
    mend = [Act("mend", THING_OF[truth.fault])] if truth.fault != "none" else []
    word = REMEDY.get(habit_of(truth.habit), "")
    said = [Act("rest") if word == "rest" else Act("say", word)] if word else []
    runs = [Act("run") for _ in truth.eyes]
    return (*mend, Act("run", count=1), *said, *runs)
