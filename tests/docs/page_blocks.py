"""Code blocks of the pages: which there are, and how each is run.

- `console`: each `$ command` is run, and its output must be what stands below it; a line `…` stands
  for any lines, `…` within a line for any words.
- `sh`: run as it is; must succeed.
- `python`: run in one namespace a page; examples with `>>>` must print what is shown.
- any block with a caption is the file of that name.
- `:class: not-run REASON` marks a block that cannot be run here.
"""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
OPENING = re.compile(r"^(?P<ticks>`{3,})(?P<info>.*)$")
OPTION = re.compile(r"^:(?P<name>[\w-]+):\s*(?P<value>.*)$")
README = "README.md"
RUN = ("console", "sh", "python", "pycon")
REASONS = ("person", "hardware", "real-time", "install")


@dataclass(frozen=True)
class Block:
    """A fenced block: its language, options and text."""

    page: str
    line: int
    language: str
    options: dict[str, str]
    text: str

    @property
    def where(self) -> str:
        return f"{self.page}:{self.line}"

    @property
    def file(self) -> str:
        """Name of the file that it is, or nothing."""
        return self.options.get("caption", "")

    @property
    def not_run(self) -> str:
        """Why it is not run, or nothing."""
        words = self.options.get("class", "").split()
        return " ".join(words[1:]) if words[:1] == ["not-run"] else ""


def pages() -> list[str]:
    """Pages written by hand."""
    found = (path.relative_to(DOCS).as_posix() for path in DOCS.rglob("*.md"))
    return sorted(p for p in found if not p.startswith(("reference/made/", "extending/examples/")))


def text_of(page: str) -> str:
    """A page's text; the README stands above the others."""
    return (ROOT / page if page == README else DOCS / page).read_text()


def blocks(page: str) -> list[Block]:
    """Every code block of a page."""
    lines, found, n = text_of(page).splitlines(), [], 0
    while n < len(lines):
        opening = OPENING.match(lines[n])
        if opening is None:
            n += 1
            continue
        end = next(k for k in range(n + 1, len(lines)) if lines[k].strip() == opening["ticks"])
        block = _block(page, n + 1, opening["info"].strip(), lines[n + 1 : end])
        found += [block] if block is not None else []
        n = end + 1
    return found


def _block(page: str, line: int, info: str, inside: list[str]) -> Block | None:
    if not info.startswith("{"):
        return Block(page, line, info, {}, "\n".join(inside) + "\n")
    if not info.startswith("{code-block}"):
        return None
    options = {}
    while inside and (match := OPTION.match(inside[0])):
        options[match["name"]] = match["value"]
        inside = inside[1:]
    language = info.removeprefix("{code-block}").strip()
    return Block(page, line, language, options, "\n".join(inside).strip("\n") + "\n")


def steps(block: Block) -> list[tuple[str, str]]:
    """Commands of a console block with the output below each; a backslash goes on."""
    parts = re.split(r"^\$ ((?:.*\\\n)*.*)\n", block.text, flags=re.MULTILINE)
    return list(zip(parts[1::2], parts[2::2], strict=True))


class Player:
    """Runs the blocks of one page in one folder."""

    def __init__(self, folder: Path, environment: dict[str, str]) -> None:
        self._folder, self._environment = folder, environment
        self._names: dict[str, Any] = {"__name__": "__page__"}

    def play(self, block: Block) -> None:
        """Run a block; fails when it does not do what the page says."""
        if block.not_run:
            return
        if block.file:
            path = self._folder / block.file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.text)
        elif block.language == "console":
            for command, wanted in steps(block):
                self._command(block, command, wanted)
        elif block.language == "sh":
            self._command(block, block.text, None)
        elif block.language in ("python", "pycon"):
            self._python(block)

    def _command(self, block: Block, command: str, wanted: str | None) -> None:
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", command],
            cwd=self._folder, env=self._environment, capture_output=True, text=True,
            timeout=120, check=False,
        )  # fmt: skip
        told = f"{block.where}\n$ {command}\n{done.stdout}{done.stderr}"
        if wanted is None:
            assert done.returncode == 0, told
            return
        shown = done.stdout if done.returncode == 0 else done.stdout + done.stderr
        assert agrees(shown, wanted), f"{told}\nthe page says:\n{wanted}"

    def _python(self, block: Block) -> None:
        if ">>>" in block.text:
            parsed = doctest.DocTestParser().get_doctest(
                block.text, self._names, block.where, block.page, block.line
            )
            runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
            runner.run(parsed, clear_globs=False)
            self._names = parsed.globs
            assert runner.summarize(verbose=False).failed == 0, block.where
        else:
            exec(compile(block.text, block.where, "exec"), self._names)


def agrees(shown: str, wanted: str) -> bool:
    """Whether output is what a page shows, `…` standing for anything."""
    lines = [
        r"(?:.*\n)*?" if line == "…" else r".*?".join(map(re.escape, line.split("…"))) + r"\n"
        for line in wanted.rstrip("\n").splitlines()
    ]
    text = shown.rstrip("\n") + "\n" if shown.strip() else ""
    return re.fullmatch("".join(lines), text) is not None


def program_folder() -> str:
    """Where `ripplefield` and `python` of this environment are."""
    return str(Path(sys.executable).parent)
