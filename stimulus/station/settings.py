"""How this station runs exams: protocol, display, button. One file, `station.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import msgspec

from protocols.errors import InputError
from protocols.files import decode_toml, read_text
from protocols.library import bundled_protocols
from protocols.write import write_whole
from stimulus.station.phone import SOCKET
from stimulus.station.runs import RUNS

FILE = "station.toml"
PHONE = "phone"
DISPLAYS, PROTOCOLS, OBSERVERS = "displays", "protocols", "observers"
Cm = Annotated[float, msgspec.Meta(ge=5.0, le=500.0)]


class Settings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Files are named by their name in the data folder's `displays` and `protocols`.

    Without a certificate, distance and lit width say what the screen is; `windowed` is WxH, empty
    for full screen.
    """

    station: Annotated[str, msgspec.Meta(pattern="^[A-Za-z0-9-]{1,20}$")] = "station-1"
    protocol: str = "screen-19"
    certificate: str = ""
    distance_cm: Annotated[float, msgspec.Meta(ge=10.0, le=300.0)] = 40.0
    screen_width_cm: Cm = 60.0
    windowed: Annotated[str, msgspec.Meta(pattern="^([0-9]{3,5}x[0-9]{3,5})?$")] = ""
    screen: Annotated[int, msgspec.Meta(ge=0, le=15)] = 0
    button: str = "keyboard"
    room_light_most_lux: Annotated[float, msgspec.Meta(ge=0.0, le=2000.0)] = 50.0
    start: Annotated[str, msgspec.Meta(pattern="^(press|now)$")] = "press"


def read_settings(data: Path) -> Settings:
    """Settings of a data folder, the defaults where it has none; raises InputError."""
    path = data / FILE
    if not path.exists():
        return Settings()
    return decode_toml(Settings, read_text(path, "station"), FILE)


def write_settings(data: Path, settings: Settings) -> None:
    """Keep settings; raises InputError for what cannot be."""
    require_usable(data, settings)
    lines = [f"{name} = {_toml(value)}" for name, value in msgspec.to_builtins(settings).items()]
    write_whole(data / FILE, "\n".join([*lines, ""]).encode())


def changed(settings: Settings, form: Mapping[str, str]) -> Settings:
    """Settings with the fields of a form; raises InputError, field by field."""
    given = {name: form[name] for name in settings.__struct_fields__ if name in form}
    for name in ("distance_cm", "screen_width_cm", "room_light_most_lux"):
        if name in given:
            given[name] = given[name].replace(",", ".")
    try:
        return msgspec.convert(
            {**msgspec.to_builtins(settings), **given}, Settings, strict=False
        )
    except msgspec.ValidationError as error:
        said, _, where = str(error).partition(" - at ")
        name = where.strip("`$.") or "setting"
        allowed = said[0].lower() + said[1:]
        raise InputError(name, given.get(name, ""), allowed, "Correct the field.") from None


def choices(data: Path, folder: str) -> list[str]:
    """Names of the files that may be chosen from a folder of the station's data."""
    suffix = ".json" if folder == DISPLAYS else ".toml"
    found = sorted(p.name for p in (data / folder).glob(f"*{suffix}") if p.is_file())
    if folder != PROTOCOLS:
        return found
    own = [name for name in found if b"procedure" in (data / folder / name).read_bytes()]
    return [*bundled_protocols(), *own]


def require_usable(data: Path, settings: Settings) -> None:
    """Raise InputError for a protocol, certificate or button that is not there."""
    from stimulus.buttons import require_button

    _require_listed(settings.protocol, choices(data, PROTOCOLS), "protocol", PROTOCOLS)
    if settings.certificate:
        listed = choices(data, DISPLAYS)
        _require_listed(settings.certificate, listed, "certificate", DISPLAYS)
    kind, _, detail = settings.button.partition(":")
    if kind == PHONE:
        _require_only_phone(settings.button)
    elif kind == "simulated":
        _require_listed(detail, choices(data, OBSERVERS), "button", OBSERVERS)
    else:
        require_button(settings.button)


def _toml(value: str | float) -> str:
    """A text or number as TOML; JSON writes both the same way."""
    return msgspec.json.encode(value).decode()


def _require_listed(name: str, listed: list[str], what: str, folder: str) -> None:
    if name not in listed:
        raise InputError(
            what, name, ", ".join(listed) or "none yet", f"Put the file into {folder}/ first."
        )


def _require_only_phone(button: str) -> None:
    if button != PHONE:
        raise InputError("button", button, PHONE, "Leave out what follows: the phone opens a page.")


def run_words(settings: Settings) -> list[str]:
    """Words of `ripplefield run` that say how this station shows and hears, from its folder."""
    words = ["--button", button_word(settings), "--screen", str(settings.screen)]
    if settings.certificate:
        words += ["--display", f"{DISPLAYS}/{settings.certificate}"]
    else:
        words += ["--distance", f"{settings.distance_cm:g}"]
        words += ["--screen-width", f"{settings.screen_width_cm:g}"]
    return [*words, "--windowed", settings.windowed] if settings.windowed else words


def protocol_word(settings: Settings) -> str:
    """The protocol as `ripplefield run` takes it, from the data folder."""
    name = settings.protocol
    return name if name in bundled_protocols() else f"{PROTOCOLS}/{name}"


def button_word(settings: Settings) -> str:
    """The button as `ripplefield run` takes it, from the data folder."""
    kind, _, detail = settings.button.partition(":")
    if settings.button == PHONE:
        return f"{PHONE}:{RUNS}/{SOCKET}"
    return f"simulated:{OBSERVERS}/{detail}" if kind == "simulated" else settings.button
