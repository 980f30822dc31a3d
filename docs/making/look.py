"""The site's colours and type, those of the project's own pages."""

from __future__ import annotations

from pygments.style import Style
from pygments.token import Comment, Generic, Keyword, Name, Number, Operator, String, Token

from analysis.figures import style
from analysis.report import scheme

SANS = '"DejaVu Sans", system-ui, sans-serif'
MONO = '"DejaVu Sans Mono", ui-monospace, monospace'


def _variables(dark: bool) -> dict[str, str]:
    own = dict(
        part.strip().removeprefix("--").split(": ")
        for part in scheme.declarations(dark).split(";")
        if part.strip()
    )
    of_theme = {
        "color-brand-primary": own["limit"],
        "color-brand-content": own["limit"],
        "color-brand-visited": own["limit"],
        "color-link--visited": own["limit"],
        "color-background-primary": own["ground"],
        "color-background-secondary": own["card"],
        "color-background-border": own["faint"],
        "color-background-hover": own["mist"],
        "color-foreground-primary": own["ink"],
        "color-foreground-secondary": own["soft"],
        "color-foreground-muted": own["soft"],
        "color-foreground-border": own["faint"],
        "color-code-background": own["card"],
        "color-inline-code-background": own["mist"],
        "color-sidebar-background": own["card"],
        "color-sidebar-search-background": own["ground"],
        "color-table-header-background": own["mist"],
        "color-highlight-on-target": own["band"],
        "font-stack": SANS,
        "font-stack--monospace": MONO,
        "font-stack--headings": 'Charter, "Bitstream Charter", Georgia, "DejaVu Serif", serif',
    }
    return own | of_theme


LIGHT, DARK = _variables(dark=False), _variables(dark=True)


def _code(ink: str, soft: str, limit: str, alarm: str) -> dict[object, str]:
    return {
        Token: ink, Comment: f"italic {soft}", Keyword: f"bold {limit}",
        Operator.Word: f"bold {limit}",
        Name.Tag: f"bold {limit}", Name.Class: "bold", Name.Function: "bold", Name.Decorator: soft,
        Number: limit, String: alarm, Generic.Prompt: f"bold {limit}", Generic.Output: soft,
        Generic.Traceback: alarm, Generic.Error: alarm,
    }  # fmt: skip


class LightCode(Style):
    """Code on a light page."""

    background_color = style.CARD
    styles = _code(style.INK, style.SOFT, style.LIMIT, style.ALARM)


class DarkCode(Style):
    """Code on a dark page."""

    background_color = scheme.DARK["card"]
    styles = _code(*(scheme.DARK[name] for name in ("ink", "soft", "limit", "alarm")))
