"""Readings of any meter typed in by a person: prompts, and a strict reader of what is typed.

The dialogue is a generator, so that a terminal, a page or a test can drive it. `measure` writes
each reading down as it comes, so stopping here loses nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Generator
from dataclasses import dataclass

from calibration.certificate import Instrument
from calibration.instruments.interface import Reading, State, Target, require_started
from calibration.instruments.photometer import REPEATS_RANGE, Details
from calibration.instruments.units import UNITS_CD_M2, in_cd_m2
from protocols.errors import InputError, Interrupted, OrderError, require_within

ASSUMED_RELATIVE_UNCERTAINTY = 0.05
"""Standard uncertainty of a meter of which none was entered; common practice, no published source.

The instrument's name then says that it was assumed.
"""

SOURCE = "meter read by hand"
STOP_WORD = "stop"
_ENTRY = re.compile(r"(?P<value>[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>[A-Za-z].*)?")
_STATES: dict[str, State] = {"over": "over", "under": "under"}


@dataclass(frozen=True)
class Prompt:
    """What to ask a person; `problem` says what was wrong with the last answer, if anything."""

    text: str
    problem: str | None = None


def parse_entry(text: str, unit: str = "cd/m2") -> Reading:
    """A typed reading: a number, then its unit if it is not `unit`; or over, or under.

    Raises InputError for anything else, and Interrupted for the word stop.

    >>> parse_entry("12.4").cd_m2
    12.4
    >>> round(parse_entry("3.5 fL").cd_m2, 4)
    11.9919
    """
    entry = text.strip()
    if entry.lower() == STOP_WORD:
        raise Interrupted("Stopped by the operator. What was entered is kept.")
    if entry.lower() in _STATES:
        return Reading(SOURCE, (), _STATES[entry.lower()])
    if "," in entry:
        raise InputError(
            "reading",
            entry,
            "a number with a point, such as 12.4",
            "Write a point: a comma can stand for the decimal point or for thousands.",
        )
    found = _ENTRY.fullmatch(entry)
    if found is None:
        raise InputError(
            "reading", entry, "a number, a number and its unit, over, under, stop", "Type it anew."
        )
    value = in_cd_m2(float(found["value"]), found["unit"] or unit, SOURCE, UNITS_CD_M2)
    return Reading(SOURCE, (value,))


def dialogue(
    target: Target | None, repeats: int, unit: str = "cd/m2"
) -> Generator[Prompt, str, Reading]:
    """Prompts for one reading with its repeats; takes answers, asks again after a bad one.

    Returns the reading; one that is out of range ends it.
    """
    values: list[float] = []
    problem: str | None = None
    while len(values) < repeats:
        typed = yield Prompt(_question(target, len(values), repeats, unit), problem)
        try:
            reading = parse_entry(typed, unit)
        except InputError as error:
            problem = str(error)
            continue
        if reading.state != "good":
            return Reading(reading.source, tuple(values), reading.state)
        values, problem = [*values, reading.cd_m2], None
    return Reading(SOURCE, tuple(values))


def _question(target: Target | None, done: int, repeats: int, unit: str) -> str:
    what = str(target) if target else "The screen"
    which = f", reading {done + 1} of {repeats}" if repeats > 1 else ""
    return f"{what}{which}, {unit} (or over, under, stop): "


class ManualPhotometer:
    """Any meter, read off by a person; `ask` shows a prompt and returns what was typed."""

    name = SOURCE
    settle_s = 0.0

    def __init__(
        self,
        ask: Callable[[Prompt], str],
        details: Details | None = None,
        unit: str = "cd/m2",
    ) -> None:
        if unit not in UNITS_CD_M2:
            raise InputError("unit", unit, ", ".join(UNITS_CD_M2), "Name one of these.")
        self._ask, self._unit = ask, unit
        self._details = details or Details()
        self._target: Target | None = None
        self._started = False

    @property
    def identity(self) -> Instrument:
        """What was entered; where no uncertainty was, one is assumed and the name says so."""
        assumed = self._details.relative_uncertainty is None
        note = f" ({ASSUMED_RELATIVE_UNCERTAINTY:.0%} uncertainty assumed)" if assumed else ""
        return Instrument(
            kind="photometer read by hand",
            name=(self._details.name or "any meter") + note,
            serial=self._details.serial or "",
            relative_uncertainty=self._details.relative_uncertainty or ASSUMED_RELATIVE_UNCERTAINTY,
            simulated=False,
        )

    def start(self) -> None:
        """Nothing to make ready; raises OrderError if started already."""
        if self._started:
            raise OrderError(f"{self.name} is started already; close it first")
        self._started = True

    def look_at(self, target: Target) -> None:
        """Name this target in the prompts to come."""
        self._target = target

    def read_cd_m2(self, repeats: int = 1) -> Reading:
        """Ask until the answers make sense. Raises Interrupted when told to stop."""
        require_started(self._started, self.name)
        require_within("repeats", repeats, *REPEATS_RANGE, "Give a whole number of readings.")
        talk = dialogue(self._target, repeats, self._unit)
        prompt = next(talk)
        while True:
            try:
                prompt = talk.send(self._ask(prompt))
            except StopIteration as done:
                reading: Reading = done.value
                return reading

    def close(self) -> None:
        """Nothing to let go of."""
        self._started = False


def ask_in_terminal(prompt: Prompt) -> str:
    """Show a prompt in the terminal and return the line typed; end of input counts as stop."""
    if prompt.problem:
        print(prompt.problem)
    try:
        return input(prompt.text)
    except EOFError:
        return STOP_WORD
