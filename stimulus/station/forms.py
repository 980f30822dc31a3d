"""Forms as the pages send them: short fields of text, decoded without surprises."""

from __future__ import annotations

from urllib.parse import parse_qsl

from starlette.requests import Request

from protocols.errors import InputError

MOST_FIELDS = 60


async def read_form(request: Request) -> dict[str, str]:
    """Fields of a posted form; raises InputError for another kind of body."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip()
    if kind != "application/x-www-form-urlencoded":
        allowed = "application/x-www-form-urlencoded"
        raise InputError("request", kind, allowed, "Use the station's own pages.")
    body = await request.body()
    try:
        text = body.decode()
        pairs = parse_qsl(
            text, keep_blank_values=True, strict_parsing=bool(text), max_num_fields=MOST_FIELDS,
            errors="strict",
        )  # fmt: skip
    except ValueError:
        todo = "Use the station's own pages."
        raise InputError("request", "a form that cannot be read", "a form", todo) from None
    return {name: value.replace("\r\n", "\n").strip() for name, value in pairs}


def choice(form: dict[str, str], name: str, allowed: tuple[str, ...], todo: str) -> str:
    """A field that is one of a few words; raises InputError."""
    value = form.get(name, "")
    if value not in allowed:
        raise InputError(name, value, ", ".join(filter(None, allowed)), todo)
    return value


def number(form: dict[str, str], name: str, low: float, high: float, todo: str) -> float:
    """A field that is a number within bounds; a comma may stand for the point.

    Raises InputError for anything else.
    """
    given = form.get(name, "")
    allowed = f"{low:g} to {high:g}"
    try:
        value = float(given.replace(",", "."))
    except ValueError:
        raise InputError(name, given, allowed, todo) from None
    if not low <= value <= high:
        raise InputError(name, given, allowed, todo)
    return value
