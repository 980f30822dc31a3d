"""This station: which protocol, display and button its exams are run with."""

from __future__ import annotations

from starlette.requests import Request

from protocols.errors import InputError
from stimulus.station.app import Station
from stimulus.station.pages.frame import Asked, Context, action, page
from stimulus.station.settings import DISPLAYS, OBSERVERS, PHONE, PROTOCOLS, changed, choices


def _context(request: Request, station: Station) -> Context:
    buttons = ["keyboard", *_serial_ports(), PHONE]
    buttons += [f"simulated:{name}" for name in choices(station.data, OBSERVERS)]
    return {
        "settings": station.settings,
        "protocols": choices(station.data, PROTOCOLS),
        "certificates": choices(station.data, DISPLAYS),
        "buttons": buttons,
        "data": station.data,
        "phone_code": station.access.phone_code if station.access.pass_phrase else "",
        "phone_refusal": station.phone.refusal,
        "phone_words": station.phone.measured.words,
    }


def _serial_ports() -> list[str]:
    from serial.tools import list_ports

    return [f"serial:{port.device}" for port in list_ports.comports()]


def _keep(asked: Asked) -> str:
    new = changed(asked.station.settings, asked.form)
    if new.button == PHONE:
        require_phone(asked.station)
    asked.station.keep_settings(new)
    asked.session.notice = "Kept. Try the set-up out again before the next exam."
    return "/settings"


def require_phone(station: Station) -> None:
    """Raise InputError while no phone is measured to be good enough."""
    refusal = station.phone.refusal
    if refusal:
        raise InputError(
            "button", f"{PHONE}: {refusal}", "a phone whose delay is measured and below the limit",
            "Open the phone's page on it and wait, or use a button box.",
        )  # fmt: skip


ROUTES = [
    page("/settings", "settings.html.j2", _context),
    action("/settings", "/settings", _keep),
]
