"""Where a played exam stands, as the station's live page would be told it."""

from __future__ import annotations

from pathlib import Path

from protocols.exam import open_exam
from stimulus.learn.sessions import Session
from stimulus.opening import opened_line
from stimulus.station.follow import Followed
from stimulus.station.live import LiveView, live_view
from stimulus.virtual_exam import VIRTUAL_BUTTON, virtual_display


def view_of(session: Session) -> LiveView:
    """The view of the session's last exam."""
    room, attempt = session.room, session.played.last
    sitting = room.sitting(attempt.plan.seed)
    delivery = room.light.delivery
    found = Followed(
        opened=opened_line(attempt.plan, room.reference, sitting, delivery, VIRTUAL_BUTTON),
        display=virtual_display(room.protocol),
        plan=attempt.plan,
        state=open_exam(attempt.plan),
    )
    for entry in attempt.entries:
        found.take(entry, Path())
    view = live_view(room.case.name, found, not attempt.over, None)
    assert view is not None
    return view
