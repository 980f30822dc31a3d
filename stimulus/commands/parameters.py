"""Parameter types whose errors say what was given, what is allowed and what to do next."""

from __future__ import annotations

from pathlib import Path

import click

from protocols.errors import InputError


class Number(click.ParamType[float]):
    """A number within bounds; whole if `whole`."""

    name = "number"

    def __init__(self, low: float, high: float, todo: str, whole: bool = False) -> None:
        self._low, self._high = low, high
        self._todo = todo
        self._whole = whole

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number; raises InputError."""
        option = param.opts[0] if param else "value"
        kind = "a whole number" if self._whole else "a number"
        allowed = f"{kind} from {self._low:g} to {self._high:g}"
        try:
            number = int(str(value)) if self._whole else float(str(value))
        except ValueError:
            raise InputError(option, str(value), allowed, self._todo) from None
        if not self._low <= number <= self._high:
            raise InputError(option, str(value), allowed, self._todo)
        return number


class Size(click.ParamType[tuple[int, int]]):
    """A window size in pixels, such as 1280x720."""

    name = "WxH"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        """Width and height; raises InputError."""
        if isinstance(value, tuple):
            return value
        parts = str(value).lower().split("x")
        sizes = [int(part) for part in parts if part.isdigit()]
        if len(parts) != 2 or len(sizes) != 2 or not all(200 <= s <= 16384 for s in sizes):
            raise InputError(
                param.opts[0] if param else "size",
                str(value),
                "WIDTHxHEIGHT in pixels, each 200 to 16384",
                "Write it like 1280x720.",
            )
        return sizes[0], sizes[1]


def exam_folders(values: tuple[str, ...]) -> list[Path]:
    """Exam folders as paths; raises InputError for one that is missing."""
    folders = [Path(value) for value in values]
    for folder in folders:
        if not folder.is_dir():
            raise InputError(
                "exam folder", str(folder), "a folder that exists", "Name an exam's folder."
            )
    return folders
