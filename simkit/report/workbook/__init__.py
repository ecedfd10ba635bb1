"""The workbook of a study of money: the cash-flow table with live formulas, for the controller.

Every formula is written once and gives both its text and the value it shows (:mod:`simkit.report.workbook.expr`),
so that the file is right before any program calculates it. Planning aid: no tax or investment advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from simkit.report.moneystudy import MoneyStudy
from simkit.report.workbook.assemble import build_book, sheet_order
from simkit.report.workbook.writing import write

__all__ = ["write_workbook"]


def write_workbook(cash: MoneyStudy, path: Path, names: Sequence[str] | None = None) -> None:
    """Write the workbook of a study: the same study gives the same bytes.

    ``names`` are the scenarios with a sheet of their own (default: the package, and every set with a bought device,
    alone and on the package); the others of the report are listed with their values.
    """
    book = build_book(cash, names)
    write(book, sheet_order(book), path)
