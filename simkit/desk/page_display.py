"""How the results of a cell become parts of a page: tables and figures through one renderer, an answer in its box."""

from __future__ import annotations

import gc
from importlib import import_module
from typing import Any

import matplotlib.pyplot as plt
import pandas as pd
from IPython.core.getipython import get_ipython
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simkit.report.exhibits import CSV, HTML, environment
from simkit.report.figures.style import STYLE
from simkit.report.frames import frame_html
from simkit.report.pictures import picture_html

TEXT = "text/plain"

USED_BY_ALL = ("simkit.desk.plot", "simkit.desk.study")
"""Modules that every notebook uses."""
Bundle = tuple[dict[str, str], dict[str, Any]]


def show_as_page() -> None:
    """Let the kernel that this runs in show tables, figures and answers as a page does.

    A figure is drawn once, when it is written: not after each cell as well, and not as a picture beside the page's.
    """
    shell: Any = get_ipython()
    plt.rcParams.update(STYLE)
    plt.switch_backend(plt.get_backend())  # what a backend brings along comes with the first figure, else
    plt.uninstall_repl_displayhook()
    shell.run_line_magic("config", "InlineBackend.figure_formats = set()")
    bundles = shell.display_formatter.mimebundle_formatter
    bundles.for_type(pd.DataFrame, _frame)
    bundles.for_type(pd.Series, _series)
    bundles.for_type(Figure, _figure)
    bundles.for_type(Axes, lambda axes, **_: ({TEXT: ""}, {}))
    bundles.for_type_by_name("simkit.desk.answers", "Answer", _answer)
    bundles.for_type_by_name("simkit.report.sentences", "Paragraphs", _answer)
    for other in shell.display_formatter.formatters.values():
        for kind in (pd.DataFrame, pd.Series, Figure):
            other.pop(kind, None)
    for name in USED_BY_ALL:
        import_module(name)
    gc.freeze()  # what is loaded now stays as long as the kernel: looking for garbage passes it by


def _frame(frame: pd.DataFrame, **_: Any) -> Bundle:
    return {HTML: frame_html(frame), CSV: frame.to_csv(), TEXT: ""}, {}


def _series(series: pd.Series, **_: Any) -> Bundle:
    frame = series.to_frame(str(series.name) if series.name is not None else "value")
    frame.attrs = dict(series.attrs)
    return _frame(frame)


def _figure(figure: Figure, **_: Any) -> Bundle:
    html, table = picture_html(figure)
    return {HTML: html, TEXT: "", **({CSV: table.to_csv()} if table is not None else {})}, {}


def _answer(answer: Any, **_: Any) -> Bundle:
    html = environment().get_template("blocks/answer.html.j2").render(sentences=answer.paragraphs)
    return {HTML: html, TEXT: answer.text}, {}
