"""Rows of money on the sheet of a scenario: in which block each stands, and its title."""

from __future__ import annotations

from collections.abc import Callable

from simkit.finance.lines import CAPACITY, CASH_RELEASING, COST, COST_AVOIDED, LINES, ONE_TIME, UNTAXED
from simkit.report.workbook.expr import Expr, least
from simkit.report.workbook.grid import Series, stacked
from simkit.report.workbook.outlays import Draft

Cell = Callable[[int], Expr]

SECTIONS = {
    "investment": ("Investment and stock", "not taxed: capital acts through depreciation"),
    COST: ("Other payments", "negative: paid"),
    CASH_RELEASING: ("Cash released", "up to today's budget"),
    "untaxed": ("Grants and stock", "single amounts that are not taxed: grants lower depreciation"),
    ONE_TIME: ("Single amounts", "once, never a year's benefit"),
    COST_AVOIDED: ("Cost avoided", "above today's budget; not in the headline"),
    CAPACITY: ("Sales of signed demand", "not in the headline"),
}
"""Blocks of money rows, in order."""


def section_of(draft: Draft) -> str:
    """Block in which a row stands: what is not taxed stands apart."""
    if draft.line in UNTAXED and draft.line != "residual":
        return "investment" if draft.kind == COST else "untaxed"
    return draft.kind


def cost_of(full: Series, growth: Series, used: Series) -> Cell:
    """A gain that is a cost, in full while in use."""
    return lambda y: least(full[y], 0) * growth[y] * used[y]


def stack_of(rows: list[Series]) -> Cell:
    """Sum of rows that stand under each other."""
    return lambda y: stacked(rows, y)


def titled(line: str, item: str) -> str:
    """Title of a line with what it is about."""
    return f"{LINES[line].title}{f' ({item})' if item else ''}"
