"""The API as pages, from the docstrings and signatures in the source; nothing is imported."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from making.words import prose

ROOT = Path(__file__).parents[2]
PACKAGES = ("protocols", "calibration", "analysis", "stimulus")
WIDE = 88
Function = ast.FunctionDef | ast.AsyncFunctionDef


def pages() -> Iterator[tuple[str, str]]:
    """Name and text of a page for each folder of the source."""
    folders: dict[Path, list[Path]] = defaultdict(list)
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            folders[path.parent].append(path)
    for folder, files in sorted(folders.items()):
        name = folder.relative_to(ROOT).as_posix().replace("/", ".")
        yield name, _page(name, files)


def _page(name: str, files: list[Path]) -> str:
    parts = ["---\ntocdepth: 2\n---", f"# {name}"]
    for path in sorted(files, key=lambda p: (p.stem != "__init__", p.stem)):
        parts += _module(path)
    return "\n\n".join(parts) + "\n"


def _module(path: Path) -> Iterator[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    yield f"## `{path.relative_to(ROOT).as_posix()}`"
    yield prose(ast.get_docstring(tree) or "")
    yield from _members(tree, "")


def _members(node: ast.AST, prefix: str) -> Iterator[str]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If):
            yield from _members(child, prefix)
        elif isinstance(child, Function | ast.ClassDef) and not child.name.startswith("_"):
            yield from _entry(child, prefix)


def _entry(node: Function | ast.ClassDef, prefix: str) -> Iterator[str]:
    depth = "####" if prefix else "###"
    yield f"{depth} `{prefix}{node.name}`"
    signature = _fields(node) if isinstance(node, ast.ClassDef) else _signature(node)
    if signature:
        yield f"```python\n{signature}\n```"
    yield prose(ast.get_docstring(node) or "")
    if isinstance(node, ast.ClassDef):
        yield from _members(node, f"{node.name}.")


def _signature(node: Function) -> str:
    marks = [ast.unparse(mark) for mark in node.decorator_list]
    if any(mark in ("property", "cached_property") for mark in marks):
        return f"{node.name} -> {ast.unparse(node.returns)}" if node.returns else node.name
    answer = f" -> {ast.unparse(node.returns)}" if node.returns else ""
    line = f"{node.name}({ast.unparse(node.args)}){answer}"
    return line if len(line) <= WIDE else _broken(node, answer)


def _broken(node: Function, answer: str) -> str:
    words, depth, parts = ast.unparse(node.args), 0, [""]
    for sign in words:
        depth += (sign in "([{") - (sign in ")]}")
        if sign == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign
    inside = "".join(f"    {part.strip()},\n" for part in parts)
    return f"{node.name}(\n{inside}){answer}"


def _fields(node: ast.ClassDef) -> str:
    """The class's line and its fields."""
    bases = ", ".join(ast.unparse(base) for base in node.bases)
    fields = [
        f"    {ast.unparse(child)}"
        for child in node.body
        if isinstance(child, ast.AnnAssign) and not ast.unparse(child.target).startswith("_")
    ]
    return "\n".join([f"class {node.name}" + (f"({bases})" if bases else ""), *fields])
