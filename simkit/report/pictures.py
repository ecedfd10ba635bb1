"""Figures as a page shows them: the title sentence as its caption, a description in words, the numbers folded below."""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass
from textwrap import fill
from weakref import WeakKeyDictionary

import matplotlib
import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator

from simkit.report.exhibits import AS_TEXT, MARKS_IN_SVG, PNG, SVG, environment
from simkit.report.frames import frame_html
from simkit.report.words import capitalised

LINE = 100
"""Characters of a title's line, where a figure is shown outside a page."""


@dataclass(frozen=True)
class FigureText:
    """What a figure says of itself in words, and the table that it draws."""

    title: str
    alt: str
    note: str = ""
    numbers: pd.DataFrame | None = None


_TOLD: WeakKeyDictionary[Figure, FigureText] = WeakKeyDictionary()


def told(axes: Axes, title: str, alt: str = "", note: str = "", numbers: pd.DataFrame | None = None) -> Axes:
    """Give a figure its title, a sentence that states what it shows, and say what it draws; return the axes.

    A page sets the title as text above the picture and folds ``numbers`` below it.
    """
    axes.set_title(fill(title, LINE), loc="left")  # matplotlib's own wrapping takes a name with two $ for a formula
    figure = axes.figure
    while not isinstance(figure, Figure):
        figure = figure.figure
    _TOLD[figure] = FigureText(title, alt, note, numbers)
    return axes


def picture_html(figure: Figure) -> tuple[str, pd.DataFrame | None]:
    """Return the figure as HTML, and the table that it folds."""
    known = _TOLD.get(figure) or FigureText(_title(figure), "")
    if not any(axes.axison for axes in figure.axes):  # there is nothing to draw: the title says so
        return _line(known.title, known.note), None
    if all(map(_only_zeros, figure.axes)):
        return _line(f"{known.title} (no picture: all of it would be zero)", known.note), None
    for axes in figure.axes:
        if axes.get_title(loc="left").split() == known.title.split():
            axes.set_title("", loc="left")
    kind, content = _drawn(figure)
    table = known.numbers if known.numbers is not None and len(known.numbers) else None
    folded = table.rename_axis(table.index.names) if table is not None else None
    if folded is not None:
        folded.attrs = {"title": "The numbers of this picture"}
    html = environment().get_template("blocks/picture.html.j2").render(
        title=known.title, alt=known.alt or _description(figure, known.title), note=known.note, kind=kind,
        content=content, numbers=frame_html(folded, folded=True) if folded is not None else "",
    )  # fmt: skip
    return html, table


def _only_zeros(axes: Axes) -> bool:
    """Whether every amount drawn is zero or none; an axis whose ticks were set names places, others bear amounts."""
    bearing = [axis for axis in (axes.xaxis, axes.yaxis) if not isinstance(axis.get_major_locator(), FixedLocator)]
    ends = [end for axis in bearing for end in axis.get_data_interval()]
    return bool(ends) and not any(end and math.isfinite(end) for end in ends)


def _line(title: str, note: str) -> str:
    nothing = pd.DataFrame()
    nothing.attrs = {"title": title, "note": note}
    return frame_html(nothing)


def _drawn(figure: Figure) -> tuple[str, str]:
    """The picture as base64 text: drawn as vectors while that is small, the same bytes each time."""
    marks = len(figure.findobj(lambda artist: isinstance(artist, Artist) and artist.get_visible()))
    stream = io.BytesIO()
    if marks > MARKS_IN_SVG * 4:  # an axis alone has some hundred artists
        with matplotlib.rc_context(AS_TEXT):
            figure.savefig(stream, format="png", dpi=160, metadata={"Software": None})
        return PNG, base64.b64encode(stream.getvalue()).decode("ascii")
    with matplotlib.rc_context({**AS_TEXT, "svg.fonttype": "none", "svg.hashsalt": "study"}):
        figure.savefig(stream, format="svg", metadata={"Date": None})
    return SVG, base64.b64encode(stream.getvalue()).decode("ascii")


def _title(figure: Figure) -> str:
    return next(
        (text for axes in figure.axes for place in ("left", "center") if (text := axes.get_title(loc=place))), ""
    )


def _description(figure: Figure, title: str) -> str:
    """Title, axes and names of what is drawn, for who cannot see it."""
    parts = [title]
    for axes in figure.axes:
        parts += [
            f"{which}: {label}" for which, label in (("across", axes.get_xlabel()), ("up", axes.get_ylabel())) if label
        ]
        legend = axes.get_legend()
        parts += [text.get_text() for text in legend.get_texts()] if legend else []
        parts += [name for label in axes.get_yticklabels() if (name := label.get_text()) and not _is_number(name)]
    return capitalised("; ".join(part for part in parts if part)) or "Figure"


def _is_number(text: str) -> bool:
    return not any(letter.isalpha() for letter in text)
