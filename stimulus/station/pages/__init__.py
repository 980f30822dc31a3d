"""One file for each page of the station; `frame.py` is what they share."""

from __future__ import annotations

from starlette.routing import BaseRoute


def all_routes() -> list[BaseRoute]:
    """Every route of the station."""
    from stimulus.station.pages import after, checks, day, door, live, press, queue, say, settings

    found: list[BaseRoute] = []
    for page in (door, checks, queue, say, live, after, day, settings, press):
        found.extend(page.ROUTES)
    return found
