"""What every page must be, whatever it shows: for the tests of pages in a real browser."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any


def contrast_ratio(a: str, b: str) -> float:
    """Contrast ratio of two CSS colours by the formula of WCAG 2.2."""
    light, dark = sorted((_relative_luminance(a), _relative_luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _relative_luminance(colour: str) -> float:
    if colour.startswith("#"):
        parts = [float(int(colour[n : n + 2], 16)) for n in (1, 3, 5)]
    else:
        parts = [float(n) for n in re.findall(r"[\d.]+", colour)[:3]]
    shares = [part / 255 for part in parts]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def overlap(a: dict[str, float], b: dict[str, float], slack: float = 0.3) -> bool:
    """Whether two boxes share more than a sliver."""
    return (
        min(a["x1"], b["x1"]) - max(a["x0"], b["x0"]) > slack
        and min(a["y1"], b["y1"]) - max(a["y0"], b["y0"]) > slack
    )


def check_headings(page: Any, seconds: int) -> None:
    """One first heading, so many second ones, and no level left out on the way down."""
    levels = page.eval_on_selector_all(
        "h1, h2, h3, h4", "found => found.map(h => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert levels.count(2) == seconds
    assert all(after - before <= 1 for before, after in pairwise(levels))


def check_pictures_have_words(page: Any, count: int) -> None:
    """Every picture has a title and a description that are read aloud; no id stands twice."""
    told = page.eval_on_selector_all(
        "figure svg",
        "found => found.map(s => [s.getAttribute('role'), ...s.getAttribute('aria-labelledby')"
        ".split(' ').map(i => document.getElementById(i)?.textContent || '')])",
    )
    assert len(told) == count
    assert all(role == "img" and title and words for role, title, words in told)
    ids = page.eval_on_selector_all("[id]", "found => found.map(e => e.id)")
    assert len(ids) == len(set(ids))
