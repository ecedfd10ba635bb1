"""The sheet of what depends on the year alone: demand, growth, discount factors, depreciation of one unit."""

from __future__ import annotations

from typing import Any

from simkit.finance.lines import LINES
from simkit.finance.tax import depreciation_text, shares_of
from simkit.report.workbook.book import YEARS, Book
from simkit.report.workbook.expr import (
    Expr,
    both,
    entry,
    if_,
    most,
)
from simkit.report.workbook.grid import Series, Sheet
from simkit.report.workbook.inputs import InputsSheet


def years_sheet(book: Book, inputs: InputsSheet) -> None:
    """What depends on the year alone: demand, growth, discount factors, depreciation of one unit."""
    sheet = book.sheet(
        YEARS,
        "Years",
        "Computed once and read by all sheets. Year 0 is the first payment; year y is "
        "the twelve months that end y years later.",
    )
    year, horizon = book.years["year"], book.input("horizon")
    add = book.years.__setitem__
    add(
        "inside",
        sheet.line("Year lies within the years looked at", "1 or 0", lambda y: if_(year[y] <= horizon, 1, 0), "year"),
    )
    add("end", sheet.line("Last year looked at", "1 or 0", lambda y: if_(year[y].is_(horizon), 1, 0), "year"))
    add("first", sheet.line("First payment", "1 or 0", lambda y: if_(year[y].is_(book.input("wait")), 1, 0), "year"))
    path = inputs.column(f"demand {y}" for y in range(1, book.horizon + 1))
    add(
        "demand",
        sheet.line(
            "Demand as a factor of the book",
            "factor",
            lambda y: entry(path, most(1, year[y])),
            "factor",
            "year 0 shows the demand of year 1",
        ),
    )
    _discounting(book, sheet)
    sheet.heading("Growth of each line since year 1")
    for name, line in LINES.items():
        if f"growth {name}" in book.inputs:
            rate = book.growth_rate(name)
            book.growth_of[name] = sheet.line(line.title, "factor", _grown(year, rate), "factor")
    sheet.heading("Depreciation")
    _schedule(book, sheet)


def _schedule(book: Book, sheet: Sheet) -> None:
    """Shares of a cost by year of service: straight line live, other methods as a table of data."""
    finance, year = book.cash.cashflow.finance, book.years["year"]
    note = "the column is the year of service; what is left is written off in the last year"
    title = "Share of a cost by year of service"
    if finance.depreciation == "straight_line" and not finance.depreciation_percent:
        life = book.input("depreciation_years")
        book.years["share"] = sheet.line(title, "share", lambda y: if_(both(year[y] > 0, year[y] <= life), 1 / life, 0),
                                         "factor", note)  # fmt: skip
        return
    shares = [0.0, *shares_of(finance)[: book.horizon]]
    shares += [0.0] * (book.horizon + 1 - len(shares))
    book.years["share"] = sheet.numbers(
        f"{title}: {depreciation_text(finance)}", "share", shares, "pasted_factor", note
    )
    book.pasted.append(("shares of depreciation on 'Years'", "a table or a method other than straight line"))


def _grown(year: Series, rate: Expr) -> Any:
    return lambda y: if_(year[y] > 0, rate ** (year[y] - 1), 1)


def _discounting(book: Book, sheet: Sheet) -> None:
    year, rate, months = book.years["year"], book.input("discount_rate"), book.input("months_per_year")
    sheet.heading("Discounting")
    monthly = sheet.scalar(
        "Rate of a month", "a month", (1 + rate) ** (1 / months) - 1, "factor", "not a twelfth of the yearly rate"
    )
    parts = sheet.scalar(
        "Year-end value of one unit in twelve parts", "factor", if_(rate.is_(0), 1, rate / (months * monthly)), "factor"
    )
    within = sheet.scalar(
        "Year-end value of one unit received during a year",
        "factor",
        book.by_timing((1 + rate) ** 0.5, parts),
        "factor",
    )
    book.inputs["within"] = within
    end = sheet.line("Discount factor at the end of the year", "factor", lambda y: (1 + rate) ** (-year[y]), "factor")
    book.years["end_factor"] = end
    wait = book.input("wait")
    book.years["from_first"] = sheet.line(
        "Discount factor from the first payment", "factor",
        lambda y: if_(year[y] <= wait, 1, (1 + rate) ** (wait - year[y]) * within), "factor", "for the payback",
    )  # fmt: skip
    book.years["deflator"] = sheet.line(
        "Value in money of year 0", "factor", lambda y: (1 + book.input("inflation")) ** (-year[y]), "factor",
        "1 where amounts are nominal",
    )  # fmt: skip
    book.years["factor"] = sheet.line(
        "Discount factor of the year's flows", "factor", lambda y: end[y] * if_(year[y] > 0, within, 1), "factor"
    )
