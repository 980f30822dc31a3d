"""An exam's folder as facts: what was opened, shown and answered, in order.

The module can be called: `analysis.load(path)` is `analysis.frame.load(path)`, a data frame.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from dataclasses import replace as dataclass_replace
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar

from msgspec.structs import replace

from analysis.corrected import TrueEye, event_of, opened_of, protocol_of, true_eyes
from protocols.errors import InputError
from protocols.events import (
    Advised,
    AnsweredLine,
    Caution,
    Closed,
    Corrected,
    Display,
    EyeLine,
    Held,
    Opened,
    Presented,
)
from protocols.field import Eye
from protocols.files import read_text, sha256_hex
from protocols.journal import JOURNAL, Entry, read
from protocols.library import Protocol, parse_protocol
from protocols.plugins import require_recorded

Kind = TypeVar("Kind", Opened, Display)


@dataclass(frozen=True)
class Trial:
    """One presentation with its answer; `answer` is None where it was cut short."""

    shown: Presented
    answer: AnsweredLine | None
    void: bool = False

    @property
    def told(self) -> bool:
        """Whether its answer tells anything: not practice, not spoiled, not `void`.

        A target is `void` where it was meant for the blind spot of the other eye.
        """
        left_out = self.void or self.shown.practice or self.shown.spoiled
        return self.answer is not None and not left_out

    @property
    def counts(self) -> bool:
        """Whether it says something of seeing: told, and not anticipated."""
        return self.told and self.answer is not None and self.answer.verdict != "anticipation"

    @property
    def seen(self) -> bool:
        """Whether the answer was "seen"."""
        return self.answer is not None and self.answer.verdict == "seen"


@dataclass(frozen=True)
class ExamRecord:
    """Everything an exam's folder holds."""

    entries: tuple[Entry, ...]
    opened: Opened
    display: Display
    caution: Caution | None
    closed: Closed | None
    trials: tuple[Trial, ...]
    protocol: Protocol
    journal_sha256: str
    eye_corrected: bool = False

    def of_eye(self, eye: Eye) -> tuple[Trial, ...]:
        """Trials of one eye, in order."""
        return tuple(trial for trial in self.trials if trial.shown.eye == eye)

    @property
    def advice(self) -> tuple[Advised, ...]:
        """What the operator was told."""
        return tuple(e.event for e in self.entries if isinstance(e.event, Advised))

    @property
    def corrections(self) -> tuple[Corrected, ...]:
        """Wrong entries put right in the open."""
        return tuple(e.event for e in self.entries if isinstance(e.event, Corrected))

    @property
    def holds(self) -> tuple[tuple[float, Held], ...]:
        """When the exam was held, seconds on the journal's clock."""
        return tuple((e.t_s, e.event) for e in self.entries if isinstance(e.event, Held))

    @property
    def eye_starts(self) -> tuple[tuple[float, EyeLine], ...]:
        """When each eye began or was skipped, seconds on the journal's clock."""
        return tuple((e.t_s, e.event) for e in self.entries if isinstance(e.event, EyeLine))


def load_exam(folder: Path) -> ExamRecord:
    """Read an exam's folder; raises InputError where it is not one or does not fit together."""
    entries = tuple(read(folder))
    opened, display = _first(entries, Opened, folder), _first(entries, Display, folder)
    require_recorded(opened.versions, "procedure", folder.name)
    protocol = _protocol(
        read_text(folder / "protocol.toml", "exam folder"),
        read_text(folder / "pattern.toml", "exam folder"),
    )
    if protocol.sha256 != opened.protocol_sha256:
        raise InputError(
            "protocol.toml",
            f"SHA-256 {protocol.sha256[:12]}...",
            f"{opened.protocol_sha256[:12]}..., the one in the journal",
            "Restore the protocol.toml and pattern.toml the exam was run with.",
        )
    record = ExamRecord(
        entries=entries,
        opened=_as_corrected(opened, entries),
        display=display,
        caution=next((e.event for e in entries if isinstance(e.event, Caution)), None),
        closed=_close_of(entries),
        trials=_trials(entries),
        protocol=protocol,
        journal_sha256=sha256_hex((folder / JOURNAL).read_bytes()),
    )
    true = true_eyes(opened, [entry.event for entry in entries])
    return _of_true_eyes(record, true) if true else record


def _of_true_eyes(record: ExamRecord, true: TrueEye) -> ExamRecord:
    """The record with the eyes that were tested in truth; see `analysis.corrected`."""
    entries = tuple(
        dataclass_replace(entry, event=event_of(entry.event, true)) for entry in record.entries
    )
    return dataclass_replace(
        record,
        entries=entries,
        opened=opened_of(record.opened, true),
        trials=tuple(
            dataclass_replace(trial, void=trial.shown.role == "blind_spot")
            for trial in _trials(entries)
        ),
        protocol=protocol_of(record.protocol),
        eye_corrected=True,
    )


def _close_of(entries: tuple[Entry, ...]) -> Closed | None:
    """The record's last word; corrections may follow it."""
    last = next((e.event for e in reversed(entries) if not isinstance(e.event, Corrected)), None)
    return last if isinstance(last, Closed) else None


def _as_corrected(opened: Opened, entries: tuple[Entry, ...]) -> Opened:
    """The first line with a participant's code put right by later lines."""
    for entry in entries:
        if isinstance(entry.event, Corrected) and entry.event.what == "code":
            opened = replace(opened, participant=entry.event.now)
    return opened


@lru_cache(maxsize=16)
def _protocol(text: str, pattern: str) -> Protocol:
    """The same protocol for the same text: exams of a study are checked for overlap once."""
    return parse_protocol(text, "protocol.toml", Path(), pattern)


def _first(entries: tuple[Entry, ...], kind: type[Kind], folder: Path) -> Kind:
    for entry in entries:
        if isinstance(entry.event, kind):
            return entry.event
    raise InputError(
        "exam folder",
        str(folder),
        f"a journal with a line of kind {kind.__name__.lower()}",
        "The exam stopped before it began; there is nothing to grade.",
    )


def _trials(entries: tuple[Entry, ...]) -> tuple[Trial, ...]:
    """Pair each answer with the last presentation of its index; others were cut short."""
    trials: list[Trial] = []
    for entry in entries:
        event = entry.event
        if isinstance(event, Presented):
            trials.append(Trial(event, None))
        elif isinstance(event, AnsweredLine) and trials:
            trials[-1] = Trial(trials[-1].shown, event)
    return tuple(trials)


class _Callable(ModuleType):
    """A module that can be called for a data frame of exams."""

    def __call__(self, *paths: Any, **how: Any) -> Any:
        from analysis.frame import load

        return load(*paths, **how)


sys.modules[__name__].__class__ = _Callable
