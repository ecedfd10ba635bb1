"""The sheets that hold typed-in numbers: the scenario switch, the inputs, and the years made from them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from simkit.report.workbook.book import CASES, INPUTS, SWITCH, Book
from simkit.report.workbook.expr import (
    Expr,
    both,
    choose,
    if_,
    place_of,
    total,
)
from simkit.report.workbook.grid import Sheet, span

ITEM, UNIT, FORCE, LOW, TYPICAL, HIGH, BASIS, OWNER, DATE, CHANGED = range(10)
"""Columns of the sheet of inputs; the values as built stand right of them."""

AS_BUILT = CHANGED + 1
FIRST_INPUT = 6
RULES = ("overtime", "subcontract", "sales", "posts")
LOSS_RULES = ("used_at_once", "carried_forward", "lost")
TIMINGS = ("end_year", "mid_year", "monthly")
TOLERANCE = 1e-6


def switch_sheet(book: Book) -> Sheet:
    """The sheet with the one switch; what the cases are worth is added when they are known."""
    sheet = book.sheet(
        SWITCH, "Scenario switch", "One cell picks the low, typical or high value of every input.", years=False
    )
    sheet.widths = {0: 44, 1: 16, 2: 16, 3: 16, 4: 16, 5: 60}
    sheet.row("Case in force (choose from the list)", None, None, None, None, None, look="total_text")
    row = sheet.next_row - 1
    word = sheet.put(row, 1, CASES[1], "input_text")
    book.case_word = word
    words = [sheet.put(sheet.next_row, 1 + i, case, "head") for i, case in enumerate(CASES)]
    sheet.put(sheet.next_row, 0, "The list", "text")
    listed = span(SWITCH, (sheet.next_row, 1), (sheet.next_row, len(words)), list(CASES))
    source = f"=$B${sheet.next_row + 1}:$D${sheet.next_row + 1}"
    rule = {"validate": "list", "source": source, "error_message": "Choose low, typical or high."}
    sheet.lists.append((row, 1, rule))
    sheet.next_row += 1
    sheet.row("Number of the case", None, look="text")
    book.case = sheet.put(sheet.next_row - 1, 1, place_of(word, listed), "year")
    sheet.row(
        "Low, typical and high are those of each input, not of the result: a low price and a low share kept "
        "after a year go together under 'low'. Inputs without a range keep their typical value.",
        look="note",
    )
    return sheet


class InputsSheet:
    """Adds inputs row by row and remembers where each stands."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.sheet = book.sheet(
            INPUTS,
            "Inputs",
            "Change the blue cells only. The value in force follows the switch on 'Scenarios'.",
            years=False,
        )
        self.sheet.widths = {
            ITEM: 58,
            UNIT: 17,
            FORCE: 13,
            LOW: 13,
            TYPICAL: 13,
            HIGH: 13,
            BASIS: 48,
            OWNER: 20,
            DATE: 12,
            CHANGED: 9,
            AS_BUILT: 11,
            AS_BUILT + 1: 11,
            AS_BUILT + 2: 11,
        }
        self.sheet.row(
            "input",
            "unit",
            "in force",
            *CASES,
            "source or basis",
            "owner",
            "date",
            "changed",
            "low, as built",
            "typical, as built",
            "high, as built",
            look="head",
        )
        self.as_of = book.cash.study.plant.settings.as_of.isoformat()

    def add(
        self,
        name: str,
        label: str,
        unit: str,
        typical: Any,
        *,
        low: Any = None,
        high: Any = None,
        look: str = "number",
        basis: str = "",
        owner: str = "",
        limits: dict[str, Any] | None = None,
    ) -> Expr:
        """One input: its value in force follows the case; without a range all cases are the typical value."""
        sheet, row = self.sheet, self.sheet.next_row
        sheet.row(label, unit, looks=("text", "unit"))
        middle = sheet.put(row, TYPICAL, typical, f"input_{look}")
        ends = {LOW: low, HIGH: high}
        found = {c: sheet.put(row, c, middle if v is None else v, f"input_{look}") for c, v in ends.items()}
        values = (found[LOW], middle, found[HIGH])
        for column, text in ((BASIS, basis or "plant.toml"), (OWNER, owner or "not named"), (DATE, self.as_of)):
            sheet.put(row, column, text, "input_text")
        built = [sheet.put(row, AS_BUILT + i, _plain(v.value), f"built_{look}") for i, v in enumerate(values)]
        same = both(*(now.is_(then) for now, then in zip(values, built, strict=True)))
        sheet.put(row, CHANGED, if_(same, 0, 1), "year")
        for column in (LOW, TYPICAL, HIGH):
            if limits:
                sheet.lists.append((row, column, limits))
        self.book.inputs[name] = sheet.put(row, FORCE, choose(self.book.case, *values), look)
        return self.book.inputs[name]

    def column(self, names: Iterable[str]) -> Expr:
        """The values in force of inputs that stand under each other."""
        cells = [self.book.inputs[name] for name in names]
        rows = [int(cell.text(INPUTS).rsplit("$", 1)[1]) - 1 for cell in cells]
        return span(INPUTS, (rows[0], FORCE), (rows[-1], FORCE), [cell.value for cell in cells])

    def finish(self) -> None:
        """Count the changed inputs."""
        last = self.sheet.next_row - 1
        changed = span(INPUTS, (FIRST_INPUT, CHANGED), (last, CHANGED), [0.0] * (last - FIRST_INPUT + 1))
        self.sheet.put(2, ITEM, "Inputs changed since the workbook was made", "text")
        self.book.inputs["changed"] = self.sheet.put(2, FORCE, total(changed), "year")


def _plain(value: Any) -> Any:
    return value if isinstance(value, str) else float(value)
