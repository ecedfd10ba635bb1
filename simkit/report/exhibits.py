"""What all parts of a page share: templates, kinds of content, and how a figure is saved."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

TEMPLATES = Path(__file__).parent / "templates"
SVG = "image/svg+xml"
PNG = "image/png"
HTML = "text/html"
CSV = "text/csv"
AS_TEXT: dict[Any, Any] = {"text.parse_math": False}
"""Names are no formulas; labels of axes are made as late as a figure is saved."""
MARKS_IN_SVG = 300
"""Above about this many marks a figure is drawn as pixels, which is then smaller and quicker to show."""


@cache
def environment() -> Environment:
    """Return the template environment: text is escaped, an unknown name is an error."""
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(["j2", "html"], default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
