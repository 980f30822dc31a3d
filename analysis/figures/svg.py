"""From a matplotlib figure to an SVG that can stand inside a page.

Ids nobody points to go, the style sheet that would reach the whole page goes, and the picture gets
a title and a description that are read aloud. The same figure gives the same text every time.
"""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree

from matplotlib.figure import Figure

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_UNWANTED = {"metadata", "style", "title", "desc"}
_NO_METADATA = {"Creator": None, "Date": None, "Format": None, "Type": None}


def inline_svg(figure: Figure, name: str, title: str, description: str) -> str:
    """The figure as an `<svg>` element; ids that begin with `name` stay, others only if used."""
    text = io.StringIO()
    figure.savefig(text, format="svg", metadata=_NO_METADATA, transparent=True)
    root = ElementTree.fromstring(text.getvalue())
    _drop_unwanted(root)
    _drop_idle_ids(root, name)
    _describe(root, name, title, description)
    ElementTree.register_namespace("", _SVG)
    ElementTree.register_namespace("xlink", _XLINK)
    return _numbered(ElementTree.tostring(root, encoding="unicode"), name)


def _numbered(svg: str, name: str) -> str:
    """The same with ids counted through: matplotlib makes some from the last bits of the layout,

    which differ between processes. Ids that begin with `name` are ours and stay.
    """
    given = [old for old in re.findall(r'\bid="([^"]+)"', svg) if not old.startswith(name)]
    for number, old in enumerate(dict.fromkeys(given), start=1):
        new = f"{name}-part-{number}"
        svg = re.sub(rf'(\bid="|#){re.escape(old)}(?=[")])', rf"\g<1>{new}", svg)
    return svg


def _drop_unwanted(root: ElementTree.Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag.removeprefix(f"{{{_SVG}}}") in _UNWANTED:
                parent.remove(child)


def _drop_idle_ids(root: ElementTree.Element, name: str) -> None:
    used = _used_ids(root)
    for element in root.iter():
        given = element.get("id")
        if given is not None and given not in used and not given.startswith(name):
            del element.attrib["id"]


def _used_ids(root: ElementTree.Element) -> set[str]:
    values = [value for element in root.iter() for value in element.attrib.values()]
    links = {value[1:] for value in values if value.startswith("#")}
    parts = [part for value in values for part in value.split("url(#")[1:]]
    return links | {part.split(")")[0] for part in parts}


def _describe(root: ElementTree.Element, name: str, title: str, description: str) -> None:
    for size in ("width", "height", "version"):
        root.attrib.pop(size, None)
    root.attrib |= {
        "role": "img",
        "aria-labelledby": f"{name}-title {name}-desc",
        "stroke-linejoin": "round",
        "stroke-linecap": "butt",
    }
    for place, (tag, words) in enumerate((("title", title), ("desc", description))):
        element = ElementTree.Element(f"{{{_SVG}}}{tag}", {"id": f"{name}-{tag}"})
        element.text = words
        root.insert(place, element)
