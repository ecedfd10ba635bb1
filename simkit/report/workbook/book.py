"""The workbook under construction: its sheets, and the cells that many sheets refer to."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from simkit.finance.inputs import Prices, prices_of
from simkit.plant.options import PriceCase
from simkit.report.moneystudy import MoneyStudy
from simkit.report.studydata import TODAY
from simkit.report.workbook.expr import Expr, as_expr, choose, size
from simkit.report.workbook.grid import FIRST_YEAR, LABEL, NOTE, OPENING, UNIT, VALUE, YEAR_ROW, Series, Sheet

SWITCH, INPUTS, YEARS, SIMULATED, ROSTER = "Scenarios", "Inputs", "Years", "Simulated", "Roster"
RATES, CHAIN, CHECKS = "Rates", "Incremental", "Checks"
CASES = ("low", "typical", "high")
"""Words of the switch; the study's own values are typical."""

PRICE_CASES: tuple[PriceCase, ...] = ("low", "quoted", "high")
"""The same cases as the cash-flow table names them."""

_FORBIDDEN = re.compile(r"[\[\]:*?/\\']")
LONGEST_NAME = 31


@dataclass
class Book:
    """A study of money, the scenarios with a sheet of their own, and what the sheets share."""

    cash: MoneyStudy
    names: tuple[str, ...]
    run_id: str
    sheets: dict[str, Sheet] = field(default_factory=dict)
    inputs: dict[str, Expr] = field(default_factory=dict)
    growth_of: dict[str, Series] = field(default_factory=dict)
    years: dict[str, Series] = field(default_factory=dict)
    case: Expr = field(default_factory=lambda: as_expr(1))
    case_word: Expr = field(default_factory=lambda: as_expr("typical"))
    checks: list[tuple[str, Expr, str]] = field(default_factory=list)
    """Name of each check, its formula, and where it looks."""
    pasted: list[tuple[str, str]] = field(default_factory=list)
    """What stands in the book as a value instead of a formula, and why."""

    @cached_property
    def prices(self) -> Prices:
        """Prices of the plant, as the cash-flow table reads them."""
        return prices_of(self.cash.study.plant)

    @property
    def horizon(self) -> int:
        """Years of the book."""
        return self.cash.cashflow.finance.horizon_years

    @property
    def currency(self) -> str:
        """Unit of money."""
        return self.cash.study.currency

    def input(self, name: str) -> Expr:
        """Reference to the value in force of an input."""
        return self.inputs[name]

    def none(self, difference: Expr) -> Expr:
        """Whether a difference counts as none."""
        return size(difference) <= self.input("tolerance")

    def paste(self, what: str, why: str) -> None:
        """Note once that something is a value instead of a formula, and why."""
        if (what, why) not in self.pasted:
            self.pasted.append((what, why))

    def growth_rate(self, line: str) -> Expr:
        """Growth of a line a year as a factor, inflation included."""
        return (1 + self.input(f"growth {line}")) * (1 + self.input("inflation"))

    def by_timing(self, middle: Expr, parts: Expr) -> Expr:
        """Year-end value of one unit received during a year: at its end, in its middle, in twelve parts."""
        return choose(self.input("timing"), 1, middle, parts)

    def check(self, name: str, formula: Expr, where: str) -> None:
        """Note a check for the sheet of checks."""
        self.checks.append((name, formula, where))

    def sheet(self, name: str, title: str, about: str, *, years: bool = True) -> Sheet:
        """Start a sheet with its title; sheets with years get the row of years under it."""
        sheet = Sheet(name, self.horizon if years else 0)
        self.sheets[name] = sheet
        sheet.row(title, look="title")
        sheet.row(about, look="note")
        sheet.next_row = YEAR_ROW
        if years:
            self._year_row(sheet)
            sheet.widths = {LABEL: 58, UNIT: 15, VALUE: 16, NOTE: 34, OPENING: 1.5}
            sheet.widths |= {FIRST_YEAR + year: 12 for year in range(self.horizon + 1)}
        return sheet

    def _year_row(self, sheet: Sheet) -> None:
        sheet.row("Year", "unit", "value, sum", "note", None, look="head")
        if sheet.name == YEARS:
            for year in range(self.horizon + 1):
                sheet.put(YEAR_ROW, FIRST_YEAR + year, year, "year")
            self.years["year"] = Series(YEARS, YEAR_ROW, list(range(self.horizon + 1)))
        else:
            for year in range(self.horizon + 1):
                sheet.put(YEAR_ROW, FIRST_YEAR + year, self.years["year"][year], "year")
        sheet.put(YEAR_ROW, OPENING, "", "head")

    def sheet_name(self, scenario: str) -> str:
        """Name of a scenario's sheet: as readers see it, within the limits of a spreadsheet program."""
        if scenario == TODAY:
            return "Today"
        return _sheet_names(self.cash, self.names)[scenario]


def _sheet_names(cash: MoneyStudy, names: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for scenario in names:
        plain = _FORBIDDEN.sub("-", cash.study.named(scenario))[:LONGEST_NAME]
        reserved = {SWITCH, INPUTS, YEARS, SIMULATED, ROSTER, RATES, CHAIN, CHECKS, *found.values()}
        serial, name = 1, plain
        while name.casefold() in {other.casefold() for other in reserved}:
            serial += 1
            name = f"{plain[: LONGEST_NAME - 4]} ({serial})"
        found[scenario] = name
    return found
