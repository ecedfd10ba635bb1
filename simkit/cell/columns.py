"""Logs of a run: a row is one tuple while the clock runs, since nothing is faster; who reads the log reads columns."""

from __future__ import annotations

from functools import cached_property
from typing import Any


class Column(cached_property[list[Any]]):
    """One column of the rows in an attribute, as a list, made when it is first read: after the run."""

    def __init__(self, rows: str, at: int) -> None:
        super().__init__(lambda log: [row[at] for row in getattr(log, rows)])


def columns(rows: str, count: int) -> Any:
    """So many columns of the rows in an attribute, in their order, to be given names in the class of a log."""
    return tuple(Column(rows, at) for at in range(count))
