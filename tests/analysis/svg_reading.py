"""Reading a picture back: where its shapes lie, in the units of its viewBox."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree

NAMESPACE = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")


@dataclass(frozen=True)
class Extent:
    """A shape's smallest upright rectangle; y grows downward."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def centre(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    @property
    def radius(self) -> float:
        return (self.right - self.left) / 2


def pictures(page: str) -> dict[str, ElementTree.Element]:
    """Every titled SVG of a page by the name its ids begin with."""
    found = re.findall(r"<svg [^>]*aria-labelledby.*?</svg>", page, re.S)
    roots = [ElementTree.fromstring(text) for text in found]
    return {root.get("aria-labelledby").split("-title")[0]: root for root in roots}


def by_id(picture: ElementTree.Element, name: str) -> ElementTree.Element:
    """The element with this id; fails if there is none."""
    (element,) = [e for e in picture.iter() if e.get("id") == name]
    return element


def ids(picture: ElementTree.Element, start: str) -> list[str]:
    """All ids that begin so."""
    return [e.get("id") for e in picture.iter() if (e.get("id") or "").startswith(start)]


def extent(picture: ElementTree.Element, name: str) -> Extent:
    """Where the paths of an element lie."""
    numbers = []
    for path in by_id(picture, name).iter(f"{NAMESPACE}path"):
        numbers += [float(n) for n in NUMBER.findall(path.get("d"))]
    xs, ys = numbers[0::2], numbers[1::2]
    return Extent(min(xs), min(ys), max(xs), max(ys))


def text_of(picture: ElementTree.Element, name: str) -> str:
    """The words of an element."""
    return "".join(by_id(picture, name).itertext()).strip()


def text_at(picture: ElementTree.Element, name: str) -> tuple[float, float]:
    """Where a word is anchored."""
    (word,) = by_id(picture, name).iter(f"{NAMESPACE}text")
    style = word.get("transform") or ""
    moved = re.search(r"translate\(([-\d.]+)[ ,]+([-\d.]+)\)", style)
    x, y = moved.groups() if moved else (word.get("x"), word.get("y"))
    return float(x), float(y)


def fill(picture: ElementTree.Element, name: str) -> str:
    """The fill of the first path of an element."""
    path = next(by_id(picture, name).iter(f"{NAMESPACE}path"))
    return re.search(r"fill: ([^;]+)", path.get("style"))[1].strip()


def extent_of(path: ElementTree.Element) -> Extent:
    """Where one path lies."""
    numbers = [float(n) for n in NUMBER.findall(path.get("d"))]
    xs, ys = numbers[0::2], numbers[1::2]
    return Extent(min(xs), min(ys), max(xs), max(ys))


def unfilled(picture: ElementTree.Element) -> list[ElementTree.Element]:
    """Curved paths that are outlines only."""
    return [
        path
        for path in picture.iter(f"{NAMESPACE}path")
        if "fill: none" in (path.get("style") or "") and "C" in path.get("d")
    ]
