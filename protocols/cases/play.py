"""An exam of a case as a list of what the operator does: the same acts give the same exam.

The exam machine and `conduct` run it; the stage below takes the next act whenever the last one is
used up, and the exam pauses where no act is left. So a session is its case, its seed and its acts,
and anybody can play it again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Annotated, Literal

import msgspec

from protocols.cases.habits import Word
from protocols.cases.setups import THING_OF, THINGS, fault_of, room_note
from protocols.cases.sitter import Sitter, press_times_s
from protocols.conduct import Settled, Shown, conduct
from protocols.errors import InputError
from protocols.events import Event
from protocols.exam import ExamState, open_exam
from protocols.journal import Entry
from protocols.light import Light, presented_line
from protocols.messages import Advise, Begin, Done, Hold, Message, Resume, Stop, Wait, WaivePractice
from protocols.plan import ExamPlan
from protocols.practice import NOBODY
from protocols.presentation import Presentation
from protocols.virtual import READY_S, window_s

Kind = Literal["check", "mend", "say", "run", "rest", "stop", "again"]
MOST_ACTS = 400
MOST_ATTEMPTS = 5
REST_S, ACT_S = 60.0, 10.0
"""Seconds that a rest and any other act take."""
STOPPED = "the operator stopped the exam"
BEGAN_ANEW = "the operator began anew"
MOST_PRESENTATIONS = 1000
SAID: tuple[Word, ...] = ("look", "press", "stay", "quick")
WHAT: dict[str, tuple[str, ...]] = {"check": THINGS, "mend": THINGS, "say": SAID}
DOES: tuple[Kind, ...] = ("check", "mend", "say", "run", "rest", "stop", "again")


class Act(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """One thing the operator does; `what` names the thing or the word, `count` presentations.

    A run of 0 presentations goes on to the end of the eye.
    """

    do: Kind
    what: str = ""
    count: Annotated[int, msgspec.Meta(ge=0, le=MOST_PRESENTATIONS)] = 0


def require_act(do: str, what: str = "", count: str = "") -> Act:
    """An act from words; raises InputError.

    >>> require_act("run", count="5")
    Act(do='run', what='', count=5)
    """
    known = next((kind for kind in DOES if kind == do), None)
    if known is None:
        raise InputError("act", do, ", ".join(DOES), "Choose one of them.")
    allowed = WHAT.get(do, ("",))
    if what not in allowed:
        words = ", ".join(allowed) or "nothing more"
        raise InputError(do, what, words, "Choose one of them.")
    return Act(known, what, _count(do, count))


def _count(do: str, count: str) -> int:
    if count == "":
        return 0
    if do != "run" or not count.isdecimal() or int(count) > MOST_PRESENTATIONS:
        allowed = f"0 to {MOST_PRESENTATIONS} presentations" if do == "run" else "no number"
        raise InputError(f"{do}, count", count, allowed, "Change it.")
    return int(count)


@dataclass(frozen=True)
class Mark:
    """An act with when it came: attempt (from 0), presentations of that attempt so far, phase.

    `found` is what a check found; `useful` says of a mend that there was something to mend.
    """

    act: Act
    attempt: int
    presentations: int
    phase: str
    found: str = ""
    useful: bool = False


@dataclass
class Attempt:
    """One exam of the session as it was recorded; the state is the last one known."""

    plan: ExamPlan
    began_s: float
    state: ExamState
    entries: list[Entry] = field(default_factory=list)

    @property
    def over(self) -> bool:
        """Whether it has ended."""
        return isinstance(self.state.action, Done)


@dataclass(frozen=True)
class Played:
    """A session so far: exams, acts with their time, person and room as they are at the end."""

    attempts: tuple[Attempt, ...]
    marks: tuple[Mark, ...]
    sitter: Sitter
    elapsed_s: float

    @property
    def last(self) -> Attempt:
        """The exam that counts: the last one."""
        return self.attempts[-1]


class _Paused(Exception):
    """No act is left."""


class _Record:
    """Events with the stage's time, kept in memory."""

    def __init__(self, entries: list[Entry], now_s: Callable[[], float]) -> None:
        self._entries, self._now_s = entries, now_s

    def append(self, event: Event) -> None:
        """Keep an event."""
        self._entries.append(Entry(len(self._entries), self._now_s(), "", event))

    def sync(self) -> None:
        """Memory is always as safe as it gets."""


class _Stage:
    """A stage for `conduct` that asks the list of acts what comes next."""

    def __init__(self, sitter: Sitter, light: Light, acts: Sequence[Act]) -> None:
        self.sitter, self.now_s = sitter, 0.0
        self.marks: list[Mark] = []
        self.attempts: list[Attempt] = []
        self.again = False
        self._light = light
        self._acts: Iterator[Act] = iter(acts)
        self._left = 0.0
        self._fresh_s = self._carried_s = self._onset_s = 0.0
        self._presses: tuple[float, ...] = ()

    @property
    def attempt(self) -> Attempt:
        """The exam under way."""
        return self.attempts[-1]

    def clock_s(self) -> float:
        """Seconds since the exam under way was opened."""
        return self.now_s - self.attempt.began_s

    def show(self, presentation: Presentation) -> Shown:
        """Do the next act if the last is used up, else show and let the person answer."""
        asked = self._next() if self._left <= 0 else None
        if asked is not None:
            return Shown(None, asked)
        plan = self.attempt.plan
        settings = plan.protocol.settings
        self._onset_s = self.clock_s()
        wanted = round(settings.stimulus.duration_s * self._light.refresh_hz)
        frames = (wanted, wanted, 0)
        line = presented_line(plan, presentation, self._light, self._onset_s, frames)
        self._presses = press_times_s(
            self.sitter,
            presentation,
            self._light.delivery,
            self._tired_s(),
            settings.answering.accept_until_s,
        )
        self.now_s += window_s(plan, self._presses)
        return Shown(line)

    def settle(self, presentation: Presentation) -> Settled:
        """Let the quiet gap pass."""
        self.now_s += presentation.gap_s
        self._left -= 1
        return Settled(self._presses)

    def wait(self, wait: Wait, state: ExamState) -> Message:
        """Do acts until the exam goes on; it rests as long as the protocol says."""
        if wait.what == "hold":
            return Resume()
        if wait.what == "practice":
            return self._past_practice()
        self._left = 0
        asked = self._next()
        while isinstance(asked, Hold):
            asked = self._next()
        self.now_s += max(wait.seconds, READY_S)
        if wait.what == "rest":
            self._rested()
        return asked or Begin()

    def _past_practice(self) -> Message:
        """Going on after a practice that was not passed waives it."""
        asked = self._next() if self._left <= 0 else None
        return asked or WaivePractice(NOBODY)

    def advise(self, advice: Advise) -> None:
        """The operator reads it from the record; whether to act is up to them."""

    def watch(self, state: ExamState) -> None:
        """Keep the state."""
        self.attempt.state = state

    def idle(self) -> None:
        """Take acts after an exam's end until a new one begins."""
        while not self.again:
            self._next()

    def _next(self) -> Message | None:
        """Do acts up to one that the machine must know of; None for a run."""
        for act in self._acts:
            self.marks.append(self._mark(act))
            if act.do == "run":
                self._left = act.count or inf
                return None
            if act.do == "rest":
                self.now_s += REST_S
                self._rested()
                return Hold("a rest")
            if act.do in ("stop", "again"):
                self.again = act.do == "again"
                return Stop(BEGAN_ANEW if self.again else STOPPED)
            self._quick(act)
        raise _Paused

    def _mark(self, act: Act) -> Mark:
        state = self.attempt.state
        found = room_note(self.sitter.set_up, act.what) if act.do == "check" else ""
        wrong = THING_OF.get(fault_of(self.sitter.set_up)) == act.what
        return Mark(
            act, len(self.attempts) - 1, state.index, state.phase, found,
            act.do == "mend" and wrong,
        )  # fmt: skip

    def _quick(self, act: Act) -> None:
        self.now_s += ACT_S
        if act.do == "say":
            word: Word = act.what  # type: ignore[assignment]
            self.sitter = self.sitter.hearing(word)
        elif act.do == "mend" and self.marks[-1].useful:
            self.sitter = self.sitter.put_right()

    def _rested(self) -> None:
        """A rest takes away as much of what tired the person as the person heeds it."""
        heeds = getattr(self.sitter.habit, "heeds", 1.0)
        self._carried_s = self._tired_s() * (1 - heeds)
        self._fresh_s = self.now_s

    def _tired_s(self) -> float:
        return self._carried_s + self.now_s - self._fresh_s


def play(
    sitter: Sitter, plan_of: Callable[[int], ExamPlan], light: Light, acts: Iterable[Act]
) -> Played:
    """Play acts; `plan_of` gives the plan of an attempt from its seed, the sitter's plus a number.

    Raises InputError for more acts or more exams than a session holds.
    """
    listed = tuple(acts)
    _require_few(listed)
    stage = _Stage(sitter, light, listed)
    try:
        for number in range(MOST_ATTEMPTS):
            _begin(stage, sitter.seed + number, plan_of)
            record = _Record(stage.attempt.entries, stage.clock_s)
            ended = conduct(stage.attempt.plan, stage.attempt.state, stage, record)
            stage.attempt.state = ended
            stage.idle()
    except _Paused:
        pass
    return Played(tuple(stage.attempts), tuple(stage.marks), stage.sitter, stage.now_s)


def _begin(stage: _Stage, seed: int, plan_of: Callable[[int], ExamPlan]) -> None:
    plan = plan_of(seed)
    stage.again = False
    stage.sitter = replace(stage.sitter, seed=seed)
    stage.attempts.append(Attempt(plan, stage.now_s, open_exam(plan)))


def _require_few(acts: tuple[Act, ...]) -> None:
    anew = sum(act.do == "again" for act in acts)
    if len(acts) > MOST_ACTS:
        raise InputError("acts", len(acts), f"up to {MOST_ACTS}", "Begin the case anew.")
    if anew >= MOST_ATTEMPTS:
        raise InputError(
            "exams", anew + 1, f"up to {MOST_ATTEMPTS} of one case", "Decide what to do next."
        )
