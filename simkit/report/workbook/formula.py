"""Formulas as a spreadsheet program writes them, with names in place of cells; each gives its text and its value.

``[name]`` is a cell, or the entry of the same year where the name is a row over the years (of each line, where it is a
block of rows); ``[name:]`` is the whole row, ``[name<]`` the year before. ``{C}`` is column C of the formula's own row,
``{^C}`` that of the row above. Values follow the rules of a spreadsheet program for the few functions used here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from types import CodeType
from typing import Any

import numpy as np
import numpy_financial as npf
from xlsxwriter.utility import xl_rowcol_to_cell

from simkit.finance.measures import irr

TOKEN = re.compile(r"\[(?P<name>[^\]<:]+)(?P<how>[<:]?)\]|\{(?P<up>\^?)(?P<column>[A-Z]+)\}")
_EQUAL = re.compile(r"(?<![<>=!])=")


@dataclass(frozen=True)
class CellRange:
    """Where a name stands: cells from (row, column) to (last_row, last_column), counted from 0.

    ``yearly``: its columns are the years. ``alias`` is the name that the file itself has for it.
    """

    sheet: str
    row: int
    column: int
    last_row: int
    last_column: int
    yearly: bool = False
    alias: str = ""


def reference(place: CellRange, sheet: str, column: int, how: str) -> tuple[str, tuple[int, int, int, int]]:
    """Text of a reference as it stands in a column of a sheet, and the cells that it means."""
    first, last, absolute = place.column, place.last_column, True
    if place.yearly and how != ":":
        first = last = column - (how == "<")
        absolute = False
    elif place.alias:
        return place.alias, (place.row, first, place.last_row, last)
    text = xl_rowcol_to_cell(place.row, first, True, absolute)
    if (place.row, first) != (place.last_row, last):
        text += f":{xl_rowcol_to_cell(place.last_row, last, True, absolute)}"
    before = "" if place.sheet == sheet else f"{place.sheet}!" if place.sheet.isalpha() else f"'{place.sheet}'!"
    return before + text, (place.row, first, place.last_row, last)


@lru_cache(maxsize=4096)
def compiled(template: str) -> tuple[CodeType, tuple[re.Match[str], ...]]:
    """A template as code over its operands ``v``, and its references in order."""
    tokens = tuple(TOKEN.finditer(template))
    counter = iter(range(len(tokens)))
    source = TOKEN.sub(lambda _: f"v[{next(counter)}]", template)
    source = _EQUAL.sub("==", source.replace("<>", "!=")).replace("^", "**")
    return compile(source, template, "eval"), tokens


def evaluate(code: CodeType, operands: list[Any]) -> Any:
    """Value of a compiled formula; not-a-number where a program would show an error."""
    try:
        with np.errstate(all="ignore"):
            found = eval(code, {"__builtins__": {}, "v": operands, **FUNCTIONS})
    except ZeroDivisionError:
        return math.nan
    return found.item() if isinstance(found, np.generic) else found


def _flat(items: tuple[Any, ...]) -> list[float]:
    """All numbers among the items; texts in cells count as nothing."""
    flat = [one for item in items for one in np.asarray(item, dtype=object).ravel().tolist()]
    return [float(one) for one in flat if not isinstance(one, str)]


def _numbers(item: Any) -> Any:
    return np.asarray(item, dtype=float)


def _product(*items: Any) -> float:
    found: Any = 1.0
    for item in items:
        found = found * _numbers(item)
    return math.fsum(np.ravel(found).tolist())


def _match(wanted: Any, cells: Any, _: int = 0) -> Any:
    listed = np.ravel(cells).tolist()
    return np.float64(listed.index(wanted) + 1 if wanted in listed else math.nan)


def _entry(cells: Any, row: float) -> Any:
    """Entry of one row or column of cells."""
    if not math.isfinite(row):
        return np.float64(math.nan)
    found = np.ravel(cells)[int(row) - 1]
    return found if isinstance(found, str) else np.float64(found)


def _if_error(item: Any, otherwise: Any) -> Any:
    return item if isinstance(item, str) or math.isfinite(item) else otherwise


def _rate(flows: Any, guess: float) -> Any:
    """The internal rate where there is one alone."""
    found = irr(np.ravel(_numbers(flows)))
    return np.float64(found.roots[0] if found.status == "one" and math.isfinite(guess) else math.nan)


def _text(*items: Any) -> str:
    return "".join(item if isinstance(item, str) else f"{float(item):g}" for item in items)


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "SUM": lambda *items: np.float64(math.fsum(_flat(items))),
    "MIN": lambda *items: np.float64(min(_flat(items))),
    "MAX": lambda *items: np.float64(max(_flat(items))),
    "ABS": abs,
    "INT": np.floor,
    "IF": lambda condition, yes, no: yes if condition else no,
    "IFERROR": _if_error,
    "AND": lambda *items: all(bool(np.all(item)) for item in items),
    "OR": lambda *items: any(bool(np.any(item)) for item in items),
    "INDEX": _entry,
    "MATCH": _match,
    "SUMPRODUCT": lambda *items: np.float64(_product(*items)),
    "CONCATENATE": _text,
    "PMT": lambda rate, periods, value: np.float64(npf.pmt(rate, periods, value)),
    "NPV": lambda rate, flows: np.float64(npf.npv(rate, np.append(0.0, np.ravel(_numbers(flows))))),
    "IRR": _rate,
}
"""Every function that the workbook uses: known to all spreadsheet programs, none new or volatile."""
