"""Parameter types whose errors say what was given, what is allowed and what to do next."""

from __future__ import annotations

from pathlib import Path

import click

from protocols.errors import InputError
from protocols.write import require_writable
from stimulus.commands.base import written


class Number(click.ParamType[float]):
    """A number within bounds; whole if `whole`."""

    name = "number"

    def __init__(
        self, low: float, high: float, todo: str, whole: bool = False, unit: str = ""
    ) -> None:
        self._low, self._high = low, high
        self._todo = todo
        self._whole = whole
        self._unit = unit

    @property
    def allowed(self) -> str:
        """What is allowed, in words."""
        kind = "a whole number" if self._whole else "a number"
        unit = f", in {self._unit}" if self._unit else ""
        return f"{kind} from {self._low:.10g} to {self._high:.10g}{unit}"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number; raises InputError. In the unit of the option."""
        option = param.opts[0] if param else "value"
        try:
            number = int(str(value)) if self._whole else float(str(value))
        except ValueError:
            raise InputError(option, str(value), self.allowed, self._todo) from None
        if not self._low <= number <= self._high:
            raise InputError(option, str(value), self.allowed, self._todo)
        return number


class Numbers(click.ParamType[tuple[float, ...]]):
    """Numbers within bounds, separated by commas."""

    name = "numbers"

    def __init__(self, low: float, high: float, todo: str, unit: str = "") -> None:
        self._one = Number(low, high, todo, unit=unit)

    @property
    def allowed(self) -> str:
        """What is allowed, in words."""
        return f"{self._one.allowed}, or several with commas between"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, ...]:
        """The numbers; raises InputError. In the unit of the option."""
        if isinstance(value, tuple):
            return value
        return tuple(self._one.convert(part, param, ctx) for part in str(value).split(","))


class OneOf(click.Choice[str]):
    """One of a few words."""

    @property
    def allowed(self) -> str:
        """What is allowed, in words."""
        *most, last = self.choices
        return f"{', '.join(most)} or {last}"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> str:
        """The word; raises InputError."""
        if value not in self.choices:
            name = written(param) if param else "value"
            raise InputError(name, str(value), self.allowed, "Choose one of them.")
        return str(value)


class Words(click.ParamType[str]):
    """Text, with what is allowed said in words for errors."""

    name = "text"

    def __init__(self, allowed: str) -> None:
        self.allowed = allowed

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> str:
        """The text as it is; raises InputError if it is empty or blank."""
        if not str(value).strip():
            name = written(param) if param else "value"
            raise InputError(name, str(value), self.allowed, "Write it out.")
        return str(value)


class Size(click.ParamType[tuple[int, int]]):
    """A window size in pixels, such as 1280x720."""

    name = "WxH"
    allowed = "WIDTHxHEIGHT in pixels, each 200 to 16384"

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
                self.allowed,
                "Write it like 1280x720.",
            )
        return sizes[0], sizes[1]


EXAM_FOLDERS = Words("one or more folders that hold an exam")


def exam_folders(values: tuple[str, ...]) -> list[Path]:
    """Exam folders as paths; raises InputError for one that is missing."""
    folders = [Path(value) for value in values]
    for folder in folders:
        if not folder.is_dir():
            raise InputError(
                "DIR", str(folder), "a folder that holds an exam", "Check the path."
            )
    return folders


def require_new_name(path: Path, option: str, suffix: str) -> None:
    """Raise InputError unless a file with this suffix can be made under this name."""
    if path.suffix.lower() != suffix:
        raise InputError(option, str(path), f"a name that ends in {suffix}", "Rename it.")
    if not path.absolute().parent.is_dir():
        raise InputError(
            option, str(path), "a name in a folder that exists", "Make the folder first."
        )
    if path.is_dir():
        raise InputError(option, str(path), f"a {suffix} file, not a folder", "Rename it.")
    require_writable(path.absolute().parent, option, path)
