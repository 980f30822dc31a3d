"""What a docstring of this project has to say, read from the source as syntax trees."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("protocols", "calibration", "analysis", "stimulus")
ARRAYS = re.compile(r"\b(Floats|Ints|Bools|ArrayLike|NDArray|ndarray|Singles|Codes|Bytes)\b")
SHAPE = re.compile(
    r"\bshapes?\b|\bscalars?\b|\bbroadcast"  # the word itself
    r"|\((?:[\w.*+ -]{1,16},\s?)+(?:[\w.*+ -]{1,16})?\)"  # (places,) or (observers, places)
    r"|\bone (?:number )?(?:a|per|for each|each|for every)\b"  # one a place
    r"|\b(?:a|each|every|by) (?:row|column|place|frame|pixel|person|people|reading|answer|trial)",
    re.IGNORECASE,
)
RAISES = re.compile(r"\braises?\b", re.IGNORECASE)
UNIT_NAME = re.compile(
    r"(?:^|_)(deg|s|ms|us|ns|db|lux|pt|in|minutes|seconds|cd_m2|hz|px|cm|mm|m|sr|cpd|years?|days?|dioptres|codes?|v|bytes?|rad"
    r"|ppm|per_\w+|utc|sds?|shares?|rate|ratio|contrast|nits|percent|fraction|uncertainty)$"
)
PLAIN_NAME = re.compile(
    r"^(contrasts?|p|p_.*|share|shares|probability|chance|content|confidence|rate|ratio|alpha|beta"
    r"|sensitivity|specificity|prevalence|factor|weights?|fraction|nominal|delivered|phase|mass"
    r"|lapse|false_press|guess|slips|slope|gamma|exponent|tolerance|age|odds|scale)$"
)
UNITS = re.compile(
    r"\bdB\b|\bdeg|°|\bsecond|\bms\b|\bmillisecond|\bs\b|\bHz\b|\bcd/m|\bpixel|\bpx\b|\bcm\b|\bmm\b"
    r"|\bsteradian|\bsr\b|\byears?\b|\bcodes?\b|\bcycles?\b|\bshare|\bfraction|\bchance|\bprobab"
    r"|\bcontrast|\bratio|\bper cent|%|\b0\.\.1\b|\bcounts?\b|\bunits?\b|\brelative|\bSD\b|\bvolt"
    r"|\bpeople\b|\bplaces\b|\bfactor|\bpoints?\b|\bday|\bln\b|\blog|\barea|\btimes\b|\bnats\b"
    r"|\[0, 1\)|\bmean 1\b|\bnormal\b|\bppm\b|\bparts per million|\binch|\blux\b|\bminutes?\b"
    r"|\bcolour\b",
    re.IGNORECASE,
)
SOURCE = re.compile(
    r"\b(?:1[89]|20)\d\d\b|\bIEC\b|\bWCAG\b|\bISO\b|\bNIST\b|\bGUM\b|\bJCGM\b|\bSource\b"
    r"|common practice|\bcomputed\b|Bayes"
)

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Spot:
    """A public class, function or method, with the docstrings that speak for it."""

    file: str
    name: str
    node: Function | ast.ClassDef
    around: tuple[str, ...]

    @property
    def where(self) -> str:
        return f"{self.file}:{self.node.lineno} {self.name}"

    @cached_property
    def said(self) -> str:
        return ast.get_docstring(self.node) or ""

    @cached_property
    def said_around(self) -> str:
        """Its own words with those of its class and its file."""
        return "\n".join((self.said, *self.around))


def files() -> list[Path]:
    """Every file of the four packages."""
    return [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]


@cache
def public() -> list[Spot]:
    """Every public class, function and method of the four packages."""
    return [spot for path in files() for spot in _spots(path)]


def _spots(path: Path) -> Iterator[Spot]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    file = path.relative_to(ROOT).as_posix()
    yield from _inside(tree, file, "", (ast.get_docstring(tree) or "",))


def _inside(node: ast.AST, file: str, prefix: str, around: tuple[str, ...]) -> Iterator[Spot]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If | ast.Try):
            yield from _inside(child, file, prefix, around)
        if not isinstance(child, Function | ast.ClassDef) or child.name.startswith("_"):
            continue
        yield Spot(file, prefix + child.name, child, around)
        if isinstance(child, ast.ClassDef):
            words = (ast.get_docstring(child) or "", *around)
            yield from _inside(child, file, f"{prefix}{child.name}.", words)


def spoken_for() -> dict[tuple[str, tuple[str, ...]], str]:
    """Words of the interfaces (Protocol classes), by a method's name and parameters."""
    found: dict[tuple[str, tuple[str, ...]], str] = {}
    for spot in public():
        if isinstance(spot.node, ast.ClassDef) and "Protocol" in _bases(spot.node):
            for child in spot.node.body:
                if isinstance(child, Function):
                    words = ast.get_docstring(child) or ""
                    key = (child.name, _parameters(child))
                    found[key] = "\n".join((found.get(key, ""), words, spot.said))
    return found


def _bases(node: ast.ClassDef) -> str:
    return " ".join(ast.unparse(base) for base in node.bases)


def _parameters(node: Function) -> tuple[str, ...]:
    return tuple(arg.arg for arg in [*node.args.args, *node.args.kwonlyargs])


def words_for(spot: Spot, interfaces: dict[tuple[str, tuple[str, ...]], str]) -> str:
    """What speaks for a function: itself, its class, the interface it fills."""
    method = "." in spot.name
    asked = interfaces.get((spot.node.name, _parameters(spot.node)), "") if method else ""
    return "\n".join((spot.said, *spot.around[:-1], asked))


def functions() -> list[Spot]:
    """Every public function and method."""
    return [spot for spot in public() if isinstance(spot.node, Function)]


def is_command(spot: Spot) -> bool:
    """Whether it is a command of the command line: its docstring is a help page."""
    return any("command" in ast.unparse(mark) for mark in spot.node.decorator_list)


def takes_arrays(spot: Spot) -> bool:
    """Whether a parameter or the answer is an array."""
    return any(ARRAYS.search(text) for text in _annotations(spot.node))


def _annotations(node: Function) -> list[str]:
    given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    found = [arg.annotation for arg in given] + [node.returns]
    return [ast.unparse(note) for note in found if note is not None]


def raises_input_error(spot: Spot) -> bool:
    """Whether its own body raises InputError or lets a `require_...` check do so."""
    return any(_refuses(node) for node in _body(spot.node))


def _body(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, Function | ast.ClassDef | ast.Lambda):
            continue
        yield child
        yield from _body(child)


def _refuses(node: ast.AST) -> bool:
    if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
        return ast.unparse(node.exc.func).endswith("InputError")
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return node.func.id.startswith("require_")
    return False


def bare_numbers(spot: Spot) -> list[str]:
    """Float parameters, and a float answer, whose names carry no unit and are no pure numbers."""
    node = spot.node
    given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    found = [arg.arg for arg in given if _bare(arg.arg, arg.annotation)]
    return found + (["return"] if _bare(node.name, node.returns) else [])


def _bare(name: str, note: ast.expr | None) -> bool:
    if note is None or not re.search(r"\bfloat\b|\bFloats\b|\bArrayLike\b", ast.unparse(note)):
        return False
    return not (UNIT_NAME.search(name) or PLAIN_NAME.search(name))


def held_by_truths() -> list[Spot]:
    """Public functions that the tests of `tests/truths` import."""
    found = {(spot.file, spot.name): spot for spot in functions()}
    named: dict[tuple[str, str], Spot] = {}
    for path in sorted((ROOT / "tests" / "truths").glob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and node.module:
                base = node.module.replace(".", "/")
                for alias in node.names:
                    for file in (f"{base}.py", f"{base}/__init__.py"):
                        if (file, alias.name) in found:
                            named[file, alias.name] = found[file, alias.name]
    return list(named.values())
