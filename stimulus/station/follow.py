"""Following an exam by its journal: the machine is turned by each line as it comes to disk."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from protocols.errors import RipplefieldError
from protocols.events import (
    Advised,
    AnsweredLine,
    Closed,
    Display,
    EyeLine,
    Held,
    Opened,
    Presented,
    Resumed,
)
from protocols.exam import ExamState, open_exam
from protocols.field import Eye
from protocols.files import read_text
from protocols.journal import JOURNAL, Entry, split_line, steps_of, typed
from protocols.library import parse_protocol
from protocols.migrate import Step
from protocols.plan import ExamPlan
from protocols.plugins import require_recorded
from protocols.replay import plan_from, step

PACE_OF_LAST = 20


@dataclass
class Followed:
    """What the journal has said so far. `tries` counts answers by eye and place."""

    opened: Opened | None = None
    display: Display | None = None
    plan: ExamPlan | None = None
    state: ExamState | None = None
    shown: Presented | None = None
    shown_line_s: float = 0.0
    answer: AnsweredLine | None = None
    advice: Advised | None = None
    advice_line: int = 0
    closed: Closed | None = None
    began_s: float = 0.0
    last_s: float = 0.0
    last_utc: str = ""
    lines: int = 0
    presentations: int = 0
    spoiled: int = 0
    frames_shown: int = 0
    frames_late: int = 0
    tries: Counter[tuple[Eye, int]] = field(default_factory=Counter)
    steps_s: list[float] = field(default_factory=list)
    _last_onset_s: float | None = None

    def take(self, entry: Entry, folder: Path) -> None:
        """Note one line; raises InputError where it does not follow from the ones before."""
        event = entry.event
        self.lines, self.last_s, self.last_utc = entry.n + 1, entry.t_s, entry.utc
        if isinstance(event, Opened):
            self._open(event, folder)
        elif self.plan is not None and self.state is not None:
            self.state = step(self.plan, self.state, event)
        if isinstance(event, Display):
            self.display = event
        elif isinstance(event, Advised):
            self.advice, self.advice_line = event, entry.n
        elif isinstance(event, Presented):
            self._note_shown(event, entry.t_s)
        elif isinstance(event, AnsweredLine):
            self._note_answer(event)
        elif isinstance(event, Held | Resumed | EyeLine | Closed):
            self._note_turn(event)

    def _open(self, opened: Opened, folder: Path) -> None:
        require_recorded(opened.versions, "procedure", folder.name)
        protocol = parse_protocol(
            read_text(folder / "protocol.toml", "exam"),
            "protocol.toml",
            folder,
            read_text(folder / "pattern.toml", "exam"),
        )
        self.opened, self.plan = opened, plan_from(opened, protocol)
        self.state = open_exam(self.plan)

    def _note_shown(self, shown: Presented, line_s: float) -> None:
        self.shown, self.shown_line_s, self.answer = shown, line_s, None
        self.presentations += 1
        self.spoiled += shown.spoiled
        self.frames_shown += shown.frames_shown
        self.frames_late += shown.frames_late
        if self._last_onset_s is not None:
            self.steps_s = [*self.steps_s, shown.onset_s - self._last_onset_s][-PACE_OF_LAST:]
        self._last_onset_s = shown.onset_s

    def _note_answer(self, answer: AnsweredLine) -> None:
        self.answer, shown = answer, self.shown
        useful = not answer.spoiled and answer.verdict != "anticipation"
        if shown is not None and shown.place_number is not None and not shown.practice and useful:
            self.tries[shown.eye, shown.place_number] += shown.role == "place"

    def _note_turn(self, event: Held | Resumed | EyeLine | Closed) -> None:
        self._last_onset_s = None
        self.closed = event if isinstance(event, Closed) else None
        if isinstance(event, EyeLine):
            self.advice = None
            self.began_s = self.began_s or self.last_s


class Follower:
    """Reads a journal as it grows. `version` grows with each change; `trouble` says what is wrong.

    A journal that got shorter (a torn line was set aside) is read anew.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.version = 0
        self.trouble = ""
        self.found = Followed()
        self._read_bytes = 0
        self._steps: tuple[Step, ...] = ()

    def poll(self) -> bool:
        """Take what is new; True if anything is. Costs one stat where nothing is."""
        try:
            size = (self.folder / JOURNAL).stat().st_size
        except OSError:
            return False
        if size < self._read_bytes:
            self.found, self._read_bytes = Followed(), 0
        if size == self._read_bytes or self.trouble:
            return False
        return self._take_new()

    def _take_new(self) -> bool:
        with open(self.folder / JOURNAL, "rb") as file:
            file.seek(self._read_bytes)
            new = file.read()
        whole = new.rfind(b"\n") + 1
        try:
            for text in new[:whole].splitlines():
                self.found.take(self._entry(text), self.folder)
        except RipplefieldError as error:
            self.trouble = str(error)
        self._read_bytes += whole
        self.version += bool(whole)
        return bool(whole)

    def _entry(self, text: bytes) -> Entry:
        """A line as of today's format, whatever format the journal's first line names."""
        line = split_line(text, self.folder.name)
        if line.n == 0:
            self._steps = steps_of(line, self.folder.name)
        return typed(line, self.folder.name, self._steps)
