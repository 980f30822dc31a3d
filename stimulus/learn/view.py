"""Where a played exam stands, as the station's live page would be told it."""

from __future__ import annotations

from pathlib import Path

import msgspec

from analysis.figures.ramp import depth_colour, is_dark
from protocols.exam import open_exam
from protocols.field import Eye, Place, temporal_sign
from stimulus.learn.room import Room
from stimulus.learn.sessions import Session
from stimulus.opening import opened_line
from stimulus.station.follow import Followed
from stimulus.station.live import LiveView, PlaceView, hex_of, live_view
from stimulus.virtual_exam import VIRTUAL_BUTTON, virtual_display

TRUTH_RADIUS_DEG = 1.7


class TruthView(msgspec.Struct, frozen=True):
    """What `field.js` draws of a hidden field."""

    eye: Eye
    temporal: int
    blind_spot: tuple[float, float]
    places: list[PlaceView]
    last: None = None


def truth_view(room: Room, eye: Eye) -> TruthView:
    """The hidden field of an eye in the look of the live one, all discs of one size."""
    field = room.truth.fields[eye]
    spot = room.plan(room.seed).blind_spot(eye)
    levels, below = field.truth_db, room.truth.below_limit_db(eye)
    places = [
        _true_place(number, place, float(levels[number]), float(below[number]))
        for number, place in enumerate(field.places)
    ]
    return TruthView(eye, temporal_sign(eye), (spot.x_deg, spot.y_deg), places)


def _true_place(number: int, place: Place, level_db: float, below_db: float) -> PlaceView:
    colour = depth_colour(max(0.0, below_db))
    return PlaceView(
        number=number,
        x_deg=round(place.x_deg, 3),
        y_deg=round(place.y_deg, 3),
        radius_deg=TRUTH_RADIUS_DEG,
        state="done",
        colour=hex_of(colour),
        dark=is_dark(colour),
        estimate_db=round(level_db, 1),
        give_or_take_db=None,
        tries=1,
        unseen=False,
    )


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
