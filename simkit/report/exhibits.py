"""What a study shows: figures with a title sentence and an alternative text, tables, and blocks of text.

Each knows how to display itself in a notebook, so that a study's cell is one call. Nothing here
computes a result.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import matplotlib
from IPython.display import display
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from matplotlib.figure import Figure

TEMPLATES = Path(__file__).parent / "templates"
SVG = "image/svg+xml"
PNG = "image/png"
HTML = "text/html"
AS_TEXT: dict[Any, Any] = {"text.parse_math": False}
"""Names are no formulas; labels of axes are made as late as a figure is saved."""
MARKS_IN_SVG = 300
"""Above about this many marks a figure is drawn as pixels, which is then smaller and quicker to show."""

Bundle = tuple[dict[str, str], dict[str, dict[str, Any]]]


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


@dataclass(frozen=True)
class Exhibit:
    """A figure, the sentence with a number that is its title, and its description in words."""

    figure: Figure
    title: str
    alt: str
    note: str = ""
    marks: int = 0

    def svg(self) -> str:
        """Return the drawing as SVG text, the same bytes each time."""
        stream = io.StringIO()
        with matplotlib.rc_context({**AS_TEXT, "svg.fonttype": "none", "svg.hashsalt": "study"}):
            self.figure.savefig(stream, format="svg", metadata={"Date": None})
        return stream.getvalue()

    def png(self) -> str:
        """Return the drawing as base64 text of a PNG."""
        stream = io.BytesIO()
        with matplotlib.rc_context(AS_TEXT):
            self.figure.savefig(stream, format="png", dpi=200, metadata={"Software": None})
        return base64.b64encode(stream.getvalue()).decode("ascii")

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> Bundle:
        kind, payload = (PNG, self.png()) if self.marks > MARKS_IN_SVG else (SVG, self.svg())
        about = {"alt": self.alt, "caption": self.title, "note": self.note}
        return {kind: payload, "text/plain": self.title}, {kind: about}


@dataclass(frozen=True)
class Block:
    """A piece of page made from one of the templates, with its plain text; ``facts`` go to the index."""

    template: str
    content: Mapping[str, Any]
    text: str
    facts: Mapping[str, Any] = field(default_factory=dict)

    def html(self) -> str:
        """Return the block as HTML."""
        return environment().get_template(f"blocks/{self.template}.html.j2").render(**self.content)

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> Bundle:
        return {HTML: self.html(), "text/plain": self.text}, {HTML: dict(self.facts)}


@dataclass(frozen=True)
class Row:
    """A table row: its head, its cells, and how it looks (``group``, ``total``, ``grey`` or ``lost``)."""

    head: str
    cells: tuple[str, ...]
    look: str = ""


def table(
    title: str,
    columns: Sequence[str],
    rows: Sequence[Row],
    *,
    note: str = "",
    words: bool | Sequence[int] = False,
) -> Block:
    """Make a table. ``title`` is a sentence, ``columns`` name each column with its unit, the head's first.

    ``words`` tells which cells hold text, which is set left: all of them, or those with these numbers.
    """
    text_cells = set(range(len(columns) - 1)) if words is True else set(words or ())
    content = {"title": title, "columns": columns, "rows": rows, "note": note, "text_cells": text_cells}
    return Block("table", content, title)


def paragraph(text: str, look: str = "") -> Block:
    """Make a paragraph; ``look`` is empty, ``caution`` or ``mark``."""
    return Block("paragraph", {"text": text, "look": look}, text)


def show(*items: Exhibit | Block) -> None:
    """Display exhibits and blocks one below the other."""
    for item in items:
        display(item)  # type: ignore[no-untyped-call]
