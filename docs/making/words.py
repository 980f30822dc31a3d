"""Small pieces of Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_SPECIAL = re.compile(r"([*_<>\[\]|$#{}~\\])")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; cells are Markdown already."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cell or " " for cell in line) + " |" for line in lines)


def code(text: object) -> str:
    """Text as code that may stand in a table's cell."""
    words = str(text).replace("|", "\\|")
    return f"`` {words} ``" if "`" in words else f"`{words}`"


def plain(text: str) -> str:
    """Words whose signs mean nothing to Markdown; pieces between backticks stay code."""
    parts = re.split(r"(`[^`\n]+`)", text)
    return "".join(p if p.startswith("`") else _SPECIAL.sub(r"\\\1", p) for p in parts)


def cell(text: str) -> str:
    """Words on one line."""
    return plain(" ".join(text.split()))


def prose(text: str) -> str:
    """A docstring: paragraphs, examples as code, whatever is indented as it stands."""
    return "\n\n".join(_block(block) for block in re.split(r"\n\s*\n", text) if block.strip())


def _block(block: str) -> str:
    if block.lstrip().startswith(">>>"):
        return f"```pycon\n{block.strip()}\n```"
    if block.startswith("    "):
        return f"```text\n{block}\n```"
    return plain(block)
