"""A lesson's figure: the program beside the page is run; picture, numbers and program are shown."""

from __future__ import annotations

from types import ModuleType

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.util.docutils import SphinxDirective

from making.programs import FOLDER, load
from making.words import table


def numbers(program: ModuleType) -> str:
    """The figure's numbers as a Markdown table."""
    return table(list(program.COLUMNS), [[str(cell) for cell in row] for row in program.rows()])


class LessonFigure(SphinxDirective):
    """`{lesson} NAME`: runs `learn/figures/NAME.py` and shows what it makes."""

    required_arguments = 1
    has_content = False

    def run(self) -> list[nodes.Node]:
        """Picture, table and program."""
        name = self.arguments[0]
        path = FOLDER / f"{name}.py"
        for source in (path, FOLDER / "look.py"):
            self.env.note_dependency(str(source))
        program = load(name)
        caption = f"<figcaption>{program.TITLE}</figcaption>"
        picture = f'<figure class="lesson">{program.svg()}{caption}</figure>'
        return [
            nodes.raw("", picture, format="html"),
            *self._folded("The numbers", numbers(program)),
            *self._folded(
                f"The program: docs/learn/figures/{name}.py",
                f"```python\n{path.read_text()}\n```",
            ),
        ]

    def _folded(self, summary: str, markdown: str) -> list[nodes.Node]:
        inside = nodes.container()
        self.state.nested_parse(StringList(markdown.splitlines(), "figure"), 0, inside)
        opened = " open" if summary == "The numbers" else ""
        head = f'<details class="lesson"{opened}><summary>{summary}</summary>'
        return [
            nodes.raw("", head, format="html"),
            *inside.children,
            nodes.raw("", "</details>", format="html"),
        ]
