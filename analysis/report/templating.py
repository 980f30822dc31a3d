"""The templates of all pages: everything escaped, nothing left undefined."""

from __future__ import annotations

from functools import cache

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined


@cache
def templates(*packages: str) -> Environment:
    """Templates from the folder `templates` of each package, the first that has one wins."""
    return Environment(
        loader=ChoiceLoader([PackageLoader(package, "templates") for package in packages]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
