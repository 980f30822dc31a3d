"""The source as syntax trees: which modules there are and what each of them imports."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("protocols", "calibration", "analysis", "stimulus")


@dataclass(frozen=True)
class Import:
    """A module that a file names in an import; `eager` if it is loaded with the file itself."""

    file: str
    module: str
    eager: bool

    @property
    def top(self) -> str:
        return self.module.split(".")[0]


def files(package: str) -> list[Path]:
    """Python files of a package."""
    return sorted((ROOT / package).rglob("*.py"))


def all_files() -> list[Path]:
    """Python files of all packages."""
    return [path for package in PACKAGES for path in files(package)]


def name_of(path: Path) -> str:
    """A file's path from the root of the project, with slashes."""
    return path.relative_to(ROOT).as_posix()


def tree_of(path: Path) -> ast.Module:
    """A file as a syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def imports(path: Path) -> list[Import]:
    """Every import of a file; those in functions or for type checkers alone are not eager."""
    return _found(tree_of(path), name_of(path), eager=True)


def _found(node: ast.AST, file: str, eager: bool) -> list[Import]:
    found = [Import(file, module, eager) for module in _modules(node)]
    for child in ast.iter_child_nodes(node):
        found += _found(child, file, eager and not _later(child))
    return found


def _later(node: ast.AST) -> bool:
    """Whether what stands below a node is not run when the file is loaded."""
    if isinstance(node, ast.If):
        return "TYPE_CHECKING" in ast.dump(node.test)
    return isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)


def _modules(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        base = node.module or ""
        return [base, *(f"{base}.{alias.name}" for alias in node.names)]
    return []
