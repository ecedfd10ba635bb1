"""How the desk says what a difference tells, and how its nouns show themselves in a notebook."""

from __future__ import annotations

import html
from collections.abc import Mapping

import pandas as pd

from simkit.experiment.intervals import CANNOT_TELL, NEVER_DIFFERS, TELLS

SIGN = {TELLS: "sure", CANNOT_TELL: "cannot tell", NEVER_DIFFERS: "the same"}
"""What a paired difference tells; ``the same`` is one that is zero in every replication."""


def facts_html(title: str, facts: Mapping[str, str]) -> str:
    """A title over a table of two columns; all text is escaped."""
    rows = "".join(
        f"<tr><th style='text-align:left'>{html.escape(name)}</th>"
        f"<td style='text-align:left'>{html.escape(text)}</td></tr>"
        for name, text in facts.items()
    )
    return f"<table><caption>{html.escape(title)}</caption><tbody>{rows}</tbody></table>"


def noun_html(title: str, frame: pd.DataFrame) -> str:
    """A title over a table, numbers with four digits; all text is escaped."""
    table = frame.to_html(index=False, border=0, float_format=lambda value: f"{value:,.4g}")
    return f"<p>{html.escape(title)}</p>{table}"


def titled(frame: pd.DataFrame, title: str, note: str = "", *, folded: bool | None = None) -> pd.DataFrame:
    """Give a table the sentence that states what it shows, and what must be known to read it; return it.

    ``folded`` says whether a page folds it; by default its length decides.
    """
    frame.attrs.update({"title": title, "note": note.strip(), **({} if folded is None else {"folded": folded})})
    return frame
