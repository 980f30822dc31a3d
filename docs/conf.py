"""How the pages are built: `python -m sphinx -W --keep-going -b html docs build/docs`."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from making.look import DARK, LIGHT  # noqa: E402

from protocols import __version__  # noqa: E402

project = "Ripplefield"
author = "The Ripplefield contributors"
version = release = __version__
copyright = "The Ripplefield contributors, MIT licence"

extensions = ["myst_parser", "making.extension"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["making", "learn/figures", "record_truths.py"]
myst_enable_extensions = ["colon_fence", "deflist", "attrs_inline"]
myst_heading_anchors = 3
suppress_warnings = ["toc.empty_glob"]

html_theme = "furo"
html_title = "Ripplefield"
html_short_title = "Ripplefield"
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_favicon = "../stimulus/station/static/mark.svg"
html_logo = "../stimulus/station/static/mark.svg"
html_show_sphinx = False
html_copy_source = False
html_show_sourcelink = False
html_theme_options = {"light_css_variables": LIGHT, "dark_css_variables": DARK}
pygments_style = "making.look.LightCode"
pygments_dark_style = "making.look.DarkCode"
