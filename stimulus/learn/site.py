"""The pages of teaching cases as one application, behind the station's own guard."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from starlette.applications import Starlette

from protocols.cases.file import Case
from protocols.codes import require_code
from protocols.errors import InputError
from stimulus.learn.room import open_room
from stimulus.learn.sessions import Session, new_session, require_folder
from stimulus.station.access import Access

PAGE_ROLES = ("operator", "reader")


@dataclass
class Classroom:
    """Cases and one student's sessions with them; `access` is who may look."""

    cases: dict[str, Case]
    out: str
    student: str
    seed: int | None = None
    access: Access | None = None
    sessions: dict[tuple[str, str], Session] = field(default_factory=dict)
    busy: threading.Lock = field(default_factory=threading.Lock)

    @classmethod
    def open(
        cls, cases: Sequence[Case], out: str, student: str | None, seed: int | None
    ) -> Classroom:
        """A classroom; raises InputError for a folder, code or case that cannot be used."""
        code = "" if student is None else require_code(student, "--student")
        for case in cases:
            open_room(case, seed)
        require_folder(out)
        return cls({case.name: case for case in cases}, str(Path(out).absolute()), code, seed)

    def session(self, name: str, role: str) -> Session:
        """The session with a case in a role, begun if it was not; raises InputError."""
        if name not in self.cases:
            raise InputError("case", name, ", ".join(self.cases), "Choose one from the list.")
        if role not in PAGE_ROLES:
            raise InputError("role", role, ", ".join(PAGE_ROLES), "Choose one of them.")
        if (name, role) not in self.sessions:
            student = self.student or None
            case = self.cases[name]
            self.sessions[name, role] = new_session(case, role, self.out, student, self.seed)
        return self.sessions[name, role]

    def anew(self, name: str, role: str) -> None:
        """Forget a session; its record stays until the next one ends."""
        self.sessions.pop((name, role), None)


def build_app(room: Classroom, access: Access) -> Starlette:
    """The pages; the door before them is the station's."""
    from stimulus.learn.pages import ROUTES

    room.access = access
    app = Starlette(routes=ROUTES)
    app.state.station = room
    return app
