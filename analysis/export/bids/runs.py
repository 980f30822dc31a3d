"""Which exam is which subject, session and run.

A participant's exams are one session while each was opened less than `NEW_SESSION_AFTER` after the
one before it (common practice, no published source); a visit may go past midnight.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from pathlib import Path

from analysis.export.source import Source
from protocols.errors import InputError

NEW_SESSION_AFTER = timedelta(hours=12)
LONGEST_NAME = 255


@dataclass(frozen=True)
class Run:
    """An exam with its labels; `session` and `number` count from 1."""

    source: Source
    subject: str
    session: int
    task: str
    number: int

    @property
    def session_id(self) -> str:
        """The session as it is written.

        Two digits, more where needed.
        """
        return f"ses-{self.session:02}"

    @property
    def folder(self) -> str:
        """Folder of the session, from the top of the dataset."""
        return f"sub-{self.subject}/{self.session_id}"

    @property
    def stem(self) -> str:
        """File name without its last part, from the folder of the session."""
        names = f"sub-{self.subject}_{self.session_id}_task-{self.task}_run-{self.number}"
        return f"beh/{names}_events"


def label(text: str) -> str:
    """A BIDS label: letters and digits alone.

    >>> label("screen-19")
    'screen19'
    """
    return re.sub(r"[^A-Za-z0-9]", "", text)


def make_runs(sources: Sequence[Source]) -> list[Run]:
    """Label exams sorted by participant and time.

    Raises InputError where labels would clash or are too long for a file's name.
    """
    _refuse_clashes("participant", {source.opened.participant for source in sources})
    _refuse_clashes("protocol name", {source.opened.protocol for source in sources})
    people = groupby(sources, key=lambda source: source.opened.participant)
    runs = [run for _, own in people for run in _runs_of(list(own))]
    for run in runs:
        _refuse_long_name(run)
    return runs


def _runs_of(sources: Sequence[Source]) -> Iterable[Run]:
    session, made = 1, dict[tuple[int, str], int]()
    for number, source in enumerate(sources):
        if number and source.moment - sources[number - 1].moment >= NEW_SESSION_AFTER:
            session += 1
        task = label(source.opened.protocol)
        made[session, task] = made.get((session, task), 0) + 1
        person = label(source.opened.participant)
        yield Run(source, person, session, task, made[session, task])


def _refuse_long_name(run: Run) -> None:
    """File systems take names of so many bytes; labels are ASCII."""
    over = len(Path(run.stem).name) + len(".json") - LONGEST_NAME
    if over > 0:
        raise InputError(
            "protocol name",
            run.source.opened.protocol,
            f"up to {len(run.task) - over} letters and digits, so that a file can be named by it",
            "Export these exams apart from BIDS, or run exams under a shorter name.",
        )


def _refuse_clashes(what: str, names: set[str]) -> None:
    found: dict[str, str] = {}
    for name in sorted(names):
        short = label(name)
        if not short:
            raise InputError(
                what,
                name,
                "a name with a letter a to z or a digit",
                "BIDS labels hold nothing else; export these exams apart under another name.",
            )
        if short.lower() in found:
            raise InputError(
                what,
                name,
                f"names that differ in letters or digits; {found[short.lower()]} is there too",
                "BIDS labels hold nothing else; export these exams into two folders.",
            )
        found[short.lower()] = name
