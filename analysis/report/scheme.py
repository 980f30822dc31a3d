"""From the fixed colours of a picture to the page's colours, which follow light or dark."""

from __future__ import annotations

from analysis.figures import style

NAMES = {
    style.INK: "ink",
    style.SOFT: "soft",
    style.FAINT: "faint",
    style.MIST: "mist",
    style.RING: "ring",
    style.BAND: "band",
    style.LIMIT: "limit",
    style.ALARM: "alarm",
    style.CARD: "card",
}
DARK = {
    "ink": "#e3ecea",
    "soft": "#a8babd",
    "faint": "#3b4d53",
    "mist": "#1e2e34",
    "ring": "#3f5359",
    "band": "#264a45",
    "limit": "#74cbbd",
    "alarm": "#ff9f88",
    "card": "#15232a",
}
GROUND = {"light": "#f3f5f2", "dark": "#0e181d"}


def themed(svg: str) -> str:
    """The SVG with the shared colours given by name; colours of the depth ramp stay."""
    for colour, name in NAMES.items():
        svg = svg.replace(colour, f"var(--{name})")
    return svg


def declarations(dark: bool) -> str:
    """The page's colours as CSS custom properties."""
    colours = DARK if dark else {name: colour for colour, name in NAMES.items()}
    ground = GROUND["dark" if dark else "light"]
    return " ".join(f"--{name}: {value};" for name, value in {**colours, "ground": ground}.items())
