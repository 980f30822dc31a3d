"""What Sphinx calls: writes the made pages before it reads, and knows the lessons' figures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sphinx.application import Sphinx

from making import api, columns, commands, formats
from making.figures import LessonFigure


def made_pages() -> dict[str, str]:
    """Every made page by its path below the reference folder."""
    found = {"commands.md": commands.page(), "columns.md": columns.page()}
    found |= {f"formats/{name}.md": text for name, text in formats.pages()}
    return found | {f"api/{name}.md": text for name, text in api.pages()}


def write_made_pages(app: Sphinx) -> None:
    """Write them where Sphinx finds them; what has not changed stays as it is."""
    folder = Path(app.srcdir) / "reference" / "made"
    wanted = {folder / name: text for name, text in made_pages().items()}
    for stale in set(folder.rglob("*.md")) - set(wanted):
        stale.unlink()
    for path, text in wanted.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists() or path.read_text() != text:
            path.write_text(text)


def reachable(app: Sphinx, name: str, template: str, context: dict[str, Any], tree: Any) -> None:
    """Captions that say their level, and boxes that scroll within reach of the keyboard."""
    for part, old, new in (
        ("furo_navigation_tree", 'role="heading"', 'role="heading" aria-level="2"'),
        ("body", "<pre>", '<pre tabindex="0">'),
        ("body", '<div class="table-wrapper', '<div tabindex="0" class="table-wrapper'),
    ):
        context[part] = context.get(part, "").replace(old, new)


def name_landmarks(app: Sphinx, error: Exception | None) -> None:
    """Both side columns get names, so that those who listen can tell them apart."""
    if error is None:
        for path in Path(app.outdir).rglob("*.html"):
            text = path.read_text()
            for column, name in (("sidebar-drawer", "all pages"), ("toc-drawer", "this page")):
                plain = f'<aside class="{column}'
                text = text.replace(plain, f'<aside aria-label="{name}" class="{column}')
            path.write_text(text)


def setup(app: Sphinx) -> dict[str, Any]:
    """Called by Sphinx."""
    app.add_directive("lesson", LessonFigure)
    app.connect("builder-inited", write_made_pages)
    app.connect("html-page-context", reachable, priority=900)
    app.connect("build-finished", name_landmarks)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
