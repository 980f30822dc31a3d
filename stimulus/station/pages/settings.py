"""This station: which protocol, display and button its exams are run with."""

from __future__ import annotations

from starlette.requests import Request

from stimulus.station.app import Station
from stimulus.station.pages.frame import Asked, Context, action, page
from stimulus.station.settings import DISPLAYS, OBSERVERS, PROTOCOLS, changed, choices


def _context(request: Request, station: Station) -> Context:
    buttons = ["keyboard", *_serial_ports()]
    buttons += [f"simulated:{name}" for name in choices(station.data, OBSERVERS)]
    return {
        "settings": station.settings,
        "protocols": choices(station.data, PROTOCOLS),
        "certificates": choices(station.data, DISPLAYS),
        "buttons": buttons,
        "data": station.data,
    }


def _serial_ports() -> list[str]:
    from serial.tools import list_ports

    return [f"serial:{port.device}" for port in list_ports.comports()]


def _keep(asked: Asked) -> str:
    asked.station.keep_settings(changed(asked.station.settings, asked.form))
    asked.session.notice = "Kept. Try the set-up out again before the next exam."
    return "/settings"


ROUTES = [
    page("/settings", "settings.html.j2", _context),
    action("/settings", "/settings", _keep),
]
